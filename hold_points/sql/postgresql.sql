-- The record on PostgreSQL: what was found, signed, conceded and re-opened is only added to, and a hold is lifted
-- only by a release of its own point that is in the record. Read coordination/sequence/sql first: the functions
-- guard_only_added_to and guard_never_emptied are there.

-- guard: function guard_on_lift
CREATE OR REPLACE FUNCTION guard_on_lift() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  IF NEW.lifted_at IS NULL AND NEW.lifted_by IS NULL THEN
    RETURN NULL;
  END IF;
  IF TG_OP = 'UPDATE' THEN
    IF OLD.lifted_at IS NOT NULL AND NEW.lifted_by IS NOT DISTINCT FROM OLD.lifted_by
      AND NEW.point_id = OLD.point_id THEN
      RETURN NULL;
    END IF;
  END IF;
  IF NOT EXISTS (
    SELECT 1 FROM hold_points_release r JOIN hold_points_inspection i ON i.id = r.inspection_id
      WHERE r.id = NEW.lifted_by AND i.point_id = NEW.point_id
        AND NOT EXISTS (
          SELECT 1 FROM hold_points_reopening o
            WHERE o.inspection_id = i.id AND o.at > r.received_at)
  ) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: a hold is lifted only by a release of its point that stands in the record';
  END IF;
  RETURN NULL;
END
$guard$;

-- guard: trigger guard_lift on sequence_hold
CREATE TRIGGER guard_lift AFTER INSERT OR UPDATE ON sequence_hold FOR EACH ROW EXECUTE FUNCTION guard_on_lift();

-- guard: trigger guard_recordentry on hold_points_recordentry
CREATE TRIGGER guard_recordentry BEFORE DELETE OR UPDATE ON hold_points_recordentry FOR EACH ROW EXECUTE FUNCTION guard_only_added_to();

-- guard: trigger guard_outcome on hold_points_outcome
CREATE TRIGGER guard_outcome BEFORE DELETE OR UPDATE ON hold_points_outcome FOR EACH ROW EXECUTE FUNCTION guard_only_added_to();

-- guard: trigger guard_release on hold_points_release
CREATE TRIGGER guard_release BEFORE DELETE OR UPDATE ON hold_points_release FOR EACH ROW EXECUTE FUNCTION guard_only_added_to();

-- guard: trigger guard_concession on hold_points_concession
CREATE TRIGGER guard_concession BEFORE DELETE OR UPDATE ON hold_points_concession FOR EACH ROW EXECUTE FUNCTION guard_only_added_to();

-- guard: trigger guard_reopening on hold_points_reopening
CREATE TRIGGER guard_reopening BEFORE DELETE OR UPDATE ON hold_points_reopening FOR EACH ROW EXECUTE FUNCTION guard_only_added_to();

-- guard: trigger guard_reopening_places on hold_points_reopening_places
CREATE TRIGGER guard_reopening_places BEFORE DELETE OR UPDATE ON hold_points_reopening_places FOR EACH ROW EXECUTE FUNCTION guard_only_added_to();

-- guard: trigger guard_recordentry_emptied on hold_points_recordentry
CREATE TRIGGER guard_recordentry_emptied BEFORE TRUNCATE ON hold_points_recordentry FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();

-- guard: trigger guard_release_emptied on hold_points_release
CREATE TRIGGER guard_release_emptied BEFORE TRUNCATE ON hold_points_release FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();

-- guard: trigger guard_concession_emptied on hold_points_concession
CREATE TRIGGER guard_concession_emptied BEFORE TRUNCATE ON hold_points_concession FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();

-- guard: trigger guard_reopening_places_emptied on hold_points_reopening_places
CREATE TRIGGER guard_reopening_places_emptied BEFORE TRUNCATE ON hold_points_reopening_places FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();

-- guard: trigger guard_seal on hold_points_seal
CREATE TRIGGER guard_seal BEFORE DELETE OR UPDATE ON hold_points_seal FOR EACH ROW EXECUTE FUNCTION guard_only_added_to();

-- guard: trigger guard_seal_emptied on hold_points_seal
CREATE TRIGGER guard_seal_emptied BEFORE TRUNCATE ON hold_points_seal FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();
