-- The record on PostgreSQL: what was found, signed, conceded and re-opened is only added to, a hold is lifted only
-- by what the record says, and what has to be met for that is not taken away. Read coordination/sequence/sql first:
-- the functions guard_is_rewritten, guard_only_added_to and guard_never_emptied are there.
--
-- A release stands when it was signed in a role that may, has an entry of the record, and no re-opening of the point
-- was entered after it. The record's own numbers say what was after what, and no clock. It lifts the hold of its
-- point when it is of the whole, or when every part that has checks is released. The trigger guard_hold has locked
-- the house by then: it comes first in the order of names.

-- guard: function guard_stands
CREATE OR REPLACE FUNCTION guard_stands(signed uuid) RETURNS boolean
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  RETURN EXISTS (
    SELECT 1 FROM hold_points_release r
      JOIN hold_points_inspection i ON i.id = r.inspection_id
      JOIN hold_points_recordentry e ON e.house_id = i.house_id
        AND e.kind = CASE WHEN r.section = '' THEN 'release' ELSE 'part release' END
        AND (e.text::jsonb #>> '{facts,release}') = r.id::text
      WHERE r.id = signed AND r.role IN ('supervisor', 'assessor') AND NOT EXISTS (
        SELECT 1 FROM hold_points_reopening o WHERE o.inspection_id = i.id AND NOT EXISTS (
          SELECT 1 FROM hold_points_recordentry x
            WHERE x.house_id = i.house_id AND x.n < e.n AND x.kind = 're-opening'
              AND (x.text::jsonb #>> '{facts,reopening}') = o.id::text)));
END
$guard$;

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
      WHERE r.id = NEW.lifted_by AND i.point_id = NEW.point_id AND guard_stands(r.id)
        AND (r.section = '' OR (
          EXISTS (
            SELECT 1 FROM hold_points_check c
              WHERE c.inspection_id = i.id AND c.withdrawn_at IS NULL AND c.section = r.section)
          AND NOT EXISTS (
            SELECT 1 FROM hold_points_check c
              WHERE c.inspection_id = i.id AND c.withdrawn_at IS NULL AND NOT EXISTS (
                SELECT 1 FROM hold_points_release p
                  WHERE p.inspection_id = i.id AND p.section IN ('', c.section) AND guard_stands(p.id)))))
  ) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: a hold is lifted only by a release of its point that stands in the record';
  END IF;
  RETURN NULL;
END
$guard$;

-- What has to be met for a release is not taken away: an inspection stays at its point, a check asks what it
-- asked, and is withdrawn only while the house is written anew after its sequence.

-- guard: function guard_on_inspection
CREATE OR REPLACE FUNCTION guard_on_inspection() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  IF TG_OP = 'DELETE' THEN
    IF EXISTS (SELECT 1 FROM sequence_hold WHERE point_id = OLD.point_id)
      OR NOT guard_is_rewritten(OLD.house_id) THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: the inspection of a hold point is never deleted';
    END IF;
    RETURN NULL;
  END IF;
  IF TG_OP = 'UPDATE' THEN
    IF NEW.id <> OLD.id OR NEW.house_id <> OLD.house_id OR NEW.point_id <> OLD.point_id THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: id, point and house of an inspection stay';
    END IF;
  END IF;
  IF NEW.house_id IS DISTINCT FROM (SELECT house_id FROM sequence_activity WHERE id = NEW.point_id) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: the inspection names a point of another house';
  END IF;
  RETURN NULL;
END
$guard$;

-- guard: function guard_on_check
CREATE OR REPLACE FUNCTION guard_on_check() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
DECLARE
  house bigint;
BEGIN
  SELECT house_id INTO house FROM hold_points_inspection WHERE id = OLD.inspection_id;
  IF TG_OP = 'DELETE' THEN
    IF house IS NULL OR NOT guard_is_rewritten(house) THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: a check is taken out only when the house is written anew';
    END IF;
    RETURN NULL;
  END IF;
  IF NEW.id IS DISTINCT FROM OLD.id OR NEW.inspection_id IS DISTINCT FROM OLD.inspection_id
    OR NEW.key IS DISTINCT FROM OLD.key OR NEW.version IS DISTINCT FROM OLD.version
    OR NEW.place_id IS DISTINCT FROM OLD.place_id OR NEW.section IS DISTINCT FROM OLD.section
    OR NEW.text IS DISTINCT FROM OLD.text OR NEW.kind IS DISTINCT FROM OLD.kind
    OR NEW.unit IS DISTINCT FROM OLD.unit OR NEW.compare IS DISTINCT FROM OLD.compare
    OR NEW."limit" IS DISTINCT FROM OLD."limit" OR NEW.limit_high IS DISTINCT FROM OLD.limit_high
    OR NEW.evidence IS DISTINCT FROM OLD.evidence OR NEW.safety IS DISTINCT FROM OLD.safety
    OR NEW.found_on_site IS DISTINCT FROM OLD.found_on_site THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: what a check asks stays; a changed one is a new version';
  END IF;
  IF OLD.sample = '{}'::jsonb AND NEW.sample <> '{}'::jsonb THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: what is looked at every time is not made a sample';
  END IF;
  IF NEW.withdrawn_at IS DISTINCT FROM OLD.withdrawn_at THEN
    IF OLD.withdrawn_at IS NOT NULL OR NOT guard_is_rewritten(house) THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: a check is withdrawn once, and only when the house is written anew';
    END IF;
  END IF;
  RETURN NULL;
END
$guard$;

-- guard: function guard_on_evidence
CREATE OR REPLACE FUNCTION guard_on_evidence() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  IF TG_OP = 'DELETE' THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: evidence is never deleted';
  END IF;
  IF NEW.id IS DISTINCT FROM OLD.id OR NEW.house_id IS DISTINCT FROM OLD.house_id
    OR NEW.inspection_id IS DISTINCT FROM OLD.inspection_id
    OR NEW.check_shown_id IS DISTINCT FROM OLD.check_shown_id
    OR NEW.outcome_id IS DISTINCT FROM OLD.outcome_id
    OR NEW.nonconformity_id IS DISTINCT FROM OLD.nonconformity_id
    OR NEW.sha256 IS DISTINCT FROM OLD.sha256 OR NEW.size IS DISTINCT FROM OLD.size
    OR NEW.media_type IS DISTINCT FROM OLD.media_type OR NEW.original IS DISTINCT FROM OLD.original
    OR NEW.taken_at IS DISTINCT FROM OLD.taken_at
    OR NEW.received_at IS DISTINCT FROM OLD.received_at OR NEW.by_id IS DISTINCT FROM OLD.by_id
    OR NEW.crew_id IS DISTINCT FROM OLD.crew_id
    OR (NEW.detail_id IS NOT NULL AND NEW.detail_id IS DISTINCT FROM OLD.detail_id)
    OR (NEW.place_id IS NOT NULL AND NEW.place_id IS DISTINCT FROM OLD.place_id) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: what evidence is, and what it shows, stays';
  END IF;
  RETURN NULL;
END
$guard$;

-- What was found not met is closed by a later outcome of the same check that is not 'not met' (or by one that
-- raises it anew: it was conceded, or asked in an older version); what went past a point by the point's release.

-- guard: function guard_on_nonconformity
CREATE OR REPLACE FUNCTION guard_on_nonconformity() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  IF TG_OP = 'DELETE' THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: what is to be put right is never deleted';
  END IF;
  IF NEW.id IS DISTINCT FROM OLD.id OR NEW.house_id IS DISTINCT FROM OLD.house_id
    OR NEW.check_failed_id IS DISTINCT FROM OLD.check_failed_id
    OR NEW.raised_by_id IS DISTINCT FROM OLD.raised_by_id
    OR NEW.gone_past_id IS DISTINCT FROM OLD.gone_past_id
    OR NEW.visit_id IS DISTINCT FROM OLD.visit_id OR NEW.raised_at IS DISTINCT FROM OLD.raised_at THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: what is to be put right stays what was found';
  END IF;
  IF OLD.state = 'closed' AND (NEW.state <> OLD.state OR NEW.closed_by_id IS DISTINCT FROM OLD.closed_by_id) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: what was closed stays closed, by the same outcome';
  END IF;
  IF NEW.state NOT IN ('raised', 'put right') AND OLD.state <> 'closed' AND NOT EXISTS (
    SELECT 1 FROM hold_points_outcome o
      JOIN hold_points_check c ON c.id = o.check_judged_id
      JOIN hold_points_check f ON f.id = NEW.check_failed_id
      WHERE o.id = NEW.closed_by_id AND o.id <> NEW.raised_by_id
        AND c.inspection_id = f.inspection_id AND c.key = f.key AND c.place_id IS NOT DISTINCT FROM f.place_id
        AND (o.kind IN ('met', 'put right', 'not on this house') OR (o.kind = 'not met' AND (
          c.id <> f.id OR EXISTS (SELECT 1 FROM hold_points_concession WHERE nonconformity_id = NEW.id))))
  ) AND NOT EXISTS (
    SELECT 1 FROM hold_points_inspection i JOIN sequence_hold h ON h.point_id = i.point_id
      WHERE i.id = NEW.gone_past_id AND h.lifted_at IS NOT NULL
  ) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: what is to be put right is closed only by a fresh outcome or a release';
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

-- guard: trigger guard_statement on hold_points_statement
CREATE TRIGGER guard_statement BEFORE DELETE OR UPDATE ON hold_points_statement FOR EACH ROW EXECUTE FUNCTION guard_only_added_to();

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

-- guard: trigger guard_statement_emptied on hold_points_statement
CREATE TRIGGER guard_statement_emptied BEFORE TRUNCATE ON hold_points_statement FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();

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

-- guard: trigger guard_inspection on hold_points_inspection
CREATE TRIGGER guard_inspection AFTER INSERT OR DELETE OR UPDATE ON hold_points_inspection FOR EACH ROW EXECUTE FUNCTION guard_on_inspection();

-- guard: trigger guard_check on hold_points_check
CREATE TRIGGER guard_check AFTER DELETE OR UPDATE ON hold_points_check FOR EACH ROW EXECUTE FUNCTION guard_on_check();

-- guard: trigger guard_evidence on hold_points_evidence
CREATE TRIGGER guard_evidence AFTER DELETE OR UPDATE ON hold_points_evidence FOR EACH ROW EXECUTE FUNCTION guard_on_evidence();

-- guard: trigger guard_evidence_emptied on hold_points_evidence
CREATE TRIGGER guard_evidence_emptied BEFORE TRUNCATE ON hold_points_evidence FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();

-- guard: trigger guard_nonconformity on hold_points_nonconformity
CREATE TRIGGER guard_nonconformity AFTER DELETE OR UPDATE ON hold_points_nonconformity FOR EACH ROW EXECUTE FUNCTION guard_on_nonconformity();
