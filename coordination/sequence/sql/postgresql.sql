-- Rule 1 on PostgreSQL: no firm booking stands behind an open hold, whoever writes.
--
-- Every judgement first locks the row of the house, so that one transaction cannot make a booking firm while
-- another, not yet committed, opens the hold before it. FOR NO KEY UPDATE shuts out every other judgement (and
-- the program's own FOR UPDATE) but not the foreign keys of unrelated rows of the same house.
--
-- The lock only helps a transaction that looks again after waiting. One with a fixed snapshot (repeatable read,
-- serializable) would still see the hold as it was lifted, so it is refused.
--
-- The functions name their schema, so that a temporary table of the same name cannot stand in for ours. The
-- triggers fire always, also in a session that plays a replica. They run after the row is written: what they
-- judge is what would stand. What 'behind an open hold' means stands in guard_judge alone:
--   stored: HoldBefore names the hold and the visit; or
--   buried: an activity of the visit covers something that is judged before at the hold's point; or
--   lived:  a path of FS or SS relationships with lag >= 0 leads from a holding point to the visit, and the
--           point's hold is open or is not there at all.

--
-- Emptying a table is refused where no foreign key would refuse it: TRUNCATE of the others needs CASCADE and ends
-- at one of these. Rows of HoldBefore may go: hiding one helps nobody, for the other two readings still hold.
--
-- What those two read is taken away only while a house is written anew after its sequence: the diary, which is
-- only added to, says 'rewriting' when that begins and 'changed' when it is done. Between the two nothing becomes
-- firm, and the nightly recount names a house that is left so, or that lacks what its sequence asks for.

-- guard: function guard_is_rewritten
CREATE OR REPLACE FUNCTION guard_is_rewritten(house bigint) RETURNS boolean
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  -- Nobody makes a booking firm in this house while another, not yet committed, takes its network apart.
  PERFORM id FROM sequence_house WHERE id = house FOR NO KEY UPDATE;
  RETURN EXISTS (
    SELECT 1 FROM sequence_change c WHERE c.house_id = house AND c.what = 'rewriting' AND NOT EXISTS (
      SELECT 1 FROM sequence_change d WHERE d.house_id = house AND d.what = 'changed' AND d.id > c.id));
END
$guard$;

-- guard: function guard_judge
CREATE OR REPLACE FUNCTION guard_judge(VARIADIC houses bigint[]) RETURNS void
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
DECLARE
  culprit bigint;
BEGIN
  IF current_setting('transaction_isolation') <> 'read committed' THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: holds and bookings are changed in read committed transactions only';
  END IF;
  PERFORM id FROM sequence_house WHERE id = ANY (houses) ORDER BY id FOR NO KEY UPDATE; -- the lock
  SELECT b.id INTO culprit FROM sequence_booking b
    JOIN sequence_holdbefore f ON f.visit_id = b.visit_id
    JOIN sequence_hold h ON h.id = f.hold_id
    WHERE b.house_id = ANY (houses) AND b.state = 'firm'
      AND h.lifted_at IS NULL AND h.set_aside_at IS NULL
    LIMIT 1;
  IF culprit IS NULL THEN
    SELECT b.id INTO culprit FROM sequence_booking b
      JOIN sequence_activity a ON a.visit_id = b.visit_id
      JOIN sequence_covering c ON c.activity_id = a.id AND NOT c.along
      JOIN sequence_hold h ON h.point_id = c.point_id
      WHERE b.house_id = ANY (houses) AND b.state = 'firm'
        AND h.lifted_at IS NULL AND h.set_aside_at IS NULL
      LIMIT 1;
  END IF;
  IF culprit IS NULL THEN
    WITH RECURSIVE before (booking_id, activity_id) AS (
      SELECT b.id, r.predecessor_id FROM sequence_booking b
        JOIN sequence_activity a ON a.visit_id = b.visit_id
        JOIN sequence_relationship r
          ON r.successor_id = a.id AND r.kind IN ('FS', 'SS') AND r.lag >= 0
        WHERE b.house_id = ANY (houses) AND b.state = 'firm'
      UNION
      SELECT before.booking_id, r.predecessor_id FROM before
        JOIN sequence_relationship r
          ON r.successor_id = before.activity_id AND r.kind IN ('FS', 'SS') AND r.lag >= 0
    )
    SELECT before.booking_id INTO culprit FROM before
      JOIN sequence_activity p ON p.id = before.activity_id
      LEFT JOIN sequence_hold h ON h.point_id = p.id
      WHERE (h.id IS NULL AND p.point_kind IN ('hold', 'hold from photographs'))
         OR (h.id IS NOT NULL AND h.lifted_at IS NULL AND h.set_aside_at IS NULL)
      LIMIT 1;
  END IF;
  IF culprit IS NOT NULL THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: a firm booking would stand behind an open hold',
      DETAIL = 'booking ' || culprit;
  END IF;
END
$guard$;

-- guard: function guard_on_booking
CREATE OR REPLACE FUNCTION guard_on_booking() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  IF TG_OP = 'DELETE' THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: a booking is never deleted, only stood down';
  END IF;
  IF TG_OP = 'UPDATE' THEN
    IF NEW.id <> OLD.id OR NEW.uid <> OLD.uid OR NEW.house_id <> OLD.house_id OR NEW.crew_id <> OLD.crew_id THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: id, calendar id, house and crew of a booking stay';
    END IF;
  END IF;
  IF NEW.state NOT IN ('asked', 'pencilled', 'firm', 'under way', 'done', 'declined', 'stood down') THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: a booking has no such state';
  END IF;
  IF NEW.house_id IS DISTINCT FROM (SELECT house_id FROM sequence_visit WHERE id = NEW.visit_id) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: the booking names a visit of another house';
  END IF;
  IF NEW.state = 'firm' THEN
    PERFORM guard_judge(NEW.house_id);
    IF (TG_OP = 'INSERT' OR OLD.state <> 'firm') AND guard_is_rewritten(NEW.house_id) THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: the house is being written anew, nothing becomes firm';
    END IF;
    IF EXISTS (
      SELECT 1 FROM sequence_activity p WHERE p.house_id = NEW.house_id
        AND p.point_kind IN ('hold', 'hold from photographs')
        AND NOT EXISTS (SELECT 1 FROM sequence_hold h WHERE h.point_id = p.id)
    ) AND (TG_OP = 'INSERT' OR OLD.state <> 'firm') THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: a holding point of the house has no hold';
    END IF;
  END IF;
  RETURN NULL;
END
$guard$;

-- guard: function guard_on_hold
CREATE OR REPLACE FUNCTION guard_on_hold() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  IF TG_OP = 'DELETE' THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: a hold is never deleted, only released or set aside';
  END IF;
  IF TG_OP = 'UPDATE' THEN
    IF NEW.id <> OLD.id OR NEW.point_id <> OLD.point_id OR NEW.house_id <> OLD.house_id THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: id, point and house of a hold stay';
    END IF;
  END IF;
  IF NEW.house_id IS DISTINCT FROM (SELECT house_id FROM sequence_activity WHERE id = NEW.point_id) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: the hold names a point of another house';
  END IF;
  PERFORM guard_judge(NEW.house_id);
  IF NEW.set_aside_at IS NOT NULL AND (TG_OP = 'INSERT' OR OLD.set_aside_at IS NULL) AND NOT EXISTS (
    SELECT 1 FROM sequence_change WHERE house_id = NEW.house_id AND what = 'stated'
  ) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: a hold is set aside only in a house that was brought in half built';
  END IF;
  IF NEW.set_aside_at IS NOT NULL AND (TG_OP = 'INSERT' OR OLD.set_aside_at IS NULL) AND EXISTS (
    SELECT 1 FROM sequence_covering c JOIN sequence_detail d ON d.id = c.detail_id
      JOIN sequence_activity a ON a.id = c.activity_id
      WHERE coalesce(c.point_id, d.point_id) = NEW.point_id AND a.actual_finish IS NULL
  ) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: what covers behind this hold is not finished, so it is not set aside';
  END IF;
  RETURN NULL;
END
$guard$;

-- guard: function guard_on_before
CREATE OR REPLACE FUNCTION guard_on_before() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
DECLARE
  house bigint;
BEGIN
  IF TG_OP = 'UPDATE' THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: which hold is before which visit is added or removed, never changed';
  END IF;
  SELECT house_id INTO house FROM sequence_visit WHERE id = NEW.visit_id;
  IF house IS DISTINCT FROM (SELECT house_id FROM sequence_hold WHERE id = NEW.hold_id) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: hold and visit are of different houses';
  END IF;
  PERFORM guard_judge(house);
  RETURN NULL;
END
$guard$;

-- guard: function guard_on_activity
CREATE OR REPLACE FUNCTION guard_on_activity() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  IF TG_OP = 'UPDATE' THEN
    IF NEW.id <> OLD.id OR NEW.house_id <> OLD.house_id THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: id and house of an activity stay';
    END IF;
    IF OLD.point_kind IN ('hold', 'hold from photographs')
      AND NEW.point_kind NOT IN ('hold', 'hold from photographs') THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: a holding point stays one';
    END IF;
  END IF;
  IF NEW.visit_id IS NOT NULL
    AND NEW.house_id IS DISTINCT FROM (SELECT house_id FROM sequence_visit WHERE id = NEW.visit_id) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: the activity names a visit of another house';
  END IF;
  IF TG_OP = 'UPDATE' THEN
    IF NEW.visit_id IS DISTINCT FROM OLD.visit_id OR NEW.point_kind <> OLD.point_kind THEN
      PERFORM guard_judge(NEW.house_id);
    END IF;
    IF OLD.visit_id IS NOT NULL AND NEW.visit_id IS DISTINCT FROM OLD.visit_id
      AND NOT guard_is_rewritten(NEW.house_id) THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: work leaves its visit only when the house is written anew';
    END IF;
  END IF;
  RETURN NULL;
END
$guard$;

-- guard: function guard_on_visit
CREATE OR REPLACE FUNCTION guard_on_visit() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  IF NEW.id <> OLD.id OR NEW.house_id <> OLD.house_id THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: id and house of a visit stay';
  END IF;
  RETURN NULL;
END
$guard$;

-- guard: function guard_on_relationship
CREATE OR REPLACE FUNCTION guard_on_relationship() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  IF TG_OP = 'DELETE' THEN
    IF OLD.kind IN ('FS', 'SS') AND OLD.lag >= 0 AND NOT guard_is_rewritten(OLD.house_id) THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: a relationship is taken out only when the house is written anew';
    END IF;
    RETURN NULL;
  END IF;
  IF TG_OP = 'UPDATE' THEN
    IF NEW.id <> OLD.id OR NEW.house_id <> OLD.house_id THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: id and house of a relationship stay';
    END IF;
    IF OLD.kind IN ('FS', 'SS') AND OLD.lag >= 0
      AND (NEW.predecessor_id <> OLD.predecessor_id OR NEW.successor_id <> OLD.successor_id
        OR NEW.kind NOT IN ('FS', 'SS') OR NEW.lag < 0)
      AND NOT guard_is_rewritten(NEW.house_id) THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: a relationship is loosened only when the house is written anew';
    END IF;
  END IF;
  IF NEW.house_id IS DISTINCT FROM (SELECT house_id FROM sequence_activity WHERE id = NEW.predecessor_id)
    OR NEW.house_id IS DISTINCT FROM (SELECT house_id FROM sequence_activity WHERE id = NEW.successor_id) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: the relationship joins activities of different houses';
  END IF;
  PERFORM guard_judge(NEW.house_id);
  RETURN NULL;
END
$guard$;

-- guard: function guard_on_covering
CREATE OR REPLACE FUNCTION guard_on_covering() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
DECLARE
  house bigint;
BEGIN
  IF TG_OP = 'INSERT' THEN
    SELECT house_id INTO house FROM sequence_activity WHERE id = NEW.activity_id;
    PERFORM guard_judge(house);
    RETURN NULL;
  END IF;
  SELECT house_id INTO house FROM sequence_detail WHERE id = OLD.detail_id;
  IF TG_OP = 'DELETE' THEN
    IF house IS NULL OR NOT guard_is_rewritten(house) THEN
      RAISE EXCEPTION USING ERRCODE = 'check_violation',
        MESSAGE = 'guard refuses: what covers what is taken out only when the house is written anew';
    END IF;
    RETURN NULL;
  END IF;
  IF NEW.id <> OLD.id OR (
    (NEW.detail_id <> OLD.detail_id OR NEW.activity_id <> OLD.activity_id
      OR NEW.point_id IS DISTINCT FROM OLD.point_id OR NEW.along <> OLD.along)
    AND (house IS NULL OR NOT guard_is_rewritten(house))
  ) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: what covers what is changed only when the house is written anew';
  END IF;
  SELECT house_id INTO house FROM sequence_activity WHERE id = NEW.activity_id;
  PERFORM guard_judge(house);
  RETURN NULL;
END
$guard$;

-- Who installed a detail does not sign for it, and no row is made to say otherwise afterwards.

-- guard: function guard_on_installer
CREATE OR REPLACE FUNCTION guard_on_installer() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
DECLARE
  house bigint;
BEGIN
  IF TG_OP = 'UPDATE' THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: who installs what is added or taken out, never changed';
  END IF;
  SELECT house_id INTO house FROM sequence_detail WHERE id = OLD.detail_id;
  IF house IS NULL OR NOT guard_is_rewritten(house) THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: who installs what is taken out only when the house is written anew';
  END IF;
  RETURN NULL;
END
$guard$;

-- guard: function guard_on_member
CREATE OR REPLACE FUNCTION guard_on_member() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  IF TG_OP = 'DELETE' THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: who was in a crew stays on the list; say when it ended';
  END IF;
  IF NEW.id <> OLD.id OR NEW.crew_id <> OLD.crew_id OR NEW.person_id <> OLD.person_id THEN
    RAISE EXCEPTION USING ERRCODE = 'check_violation',
      MESSAGE = 'guard refuses: crew and person of a membership stay; say when it ended';
  END IF;
  RETURN NULL;
END
$guard$;

-- guard: function guard_only_added_to
CREATE OR REPLACE FUNCTION guard_only_added_to() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  RAISE EXCEPTION USING ERRCODE = 'check_violation',
    MESSAGE = 'guard refuses: ' || TG_TABLE_NAME || ' is only added to';
END
$guard$;

-- guard: function guard_never_emptied
CREATE OR REPLACE FUNCTION guard_never_emptied() RETURNS trigger
LANGUAGE plpgsql SET search_path TO {schema}, pg_temp AS $guard$
BEGIN
  RAISE EXCEPTION USING ERRCODE = 'check_violation',
    MESSAGE = 'guard refuses: ' || TG_TABLE_NAME || ' is never emptied';
END
$guard$;

-- guard: trigger guard_booking on sequence_booking
CREATE TRIGGER guard_booking AFTER INSERT OR DELETE OR UPDATE ON sequence_booking FOR EACH ROW EXECUTE FUNCTION guard_on_booking();

-- guard: trigger guard_hold on sequence_hold
CREATE TRIGGER guard_hold AFTER INSERT OR DELETE OR UPDATE ON sequence_hold FOR EACH ROW EXECUTE FUNCTION guard_on_hold();

-- guard: trigger guard_before on sequence_holdbefore
CREATE TRIGGER guard_before AFTER INSERT OR UPDATE ON sequence_holdbefore FOR EACH ROW EXECUTE FUNCTION guard_on_before();

-- guard: trigger guard_activity on sequence_activity
CREATE TRIGGER guard_activity AFTER INSERT OR UPDATE ON sequence_activity FOR EACH ROW EXECUTE FUNCTION guard_on_activity();

-- guard: trigger guard_visit on sequence_visit
CREATE TRIGGER guard_visit AFTER UPDATE ON sequence_visit FOR EACH ROW EXECUTE FUNCTION guard_on_visit();

-- guard: trigger guard_relationship on sequence_relationship
CREATE TRIGGER guard_relationship AFTER INSERT OR DELETE OR UPDATE ON sequence_relationship FOR EACH ROW EXECUTE FUNCTION guard_on_relationship();

-- guard: trigger guard_covering on sequence_covering
CREATE TRIGGER guard_covering AFTER INSERT OR DELETE OR UPDATE ON sequence_covering FOR EACH ROW EXECUTE FUNCTION guard_on_covering();

-- guard: trigger guard_installer on sequence_installer
CREATE TRIGGER guard_installer AFTER DELETE OR UPDATE ON sequence_installer FOR EACH ROW EXECUTE FUNCTION guard_on_installer();

-- guard: trigger guard_member on people_crewmember
CREATE TRIGGER guard_member AFTER DELETE OR UPDATE ON people_crewmember FOR EACH ROW EXECUTE FUNCTION guard_on_member();

-- guard: trigger guard_tolddate on sequence_tolddate
CREATE TRIGGER guard_tolddate BEFORE DELETE OR UPDATE ON sequence_tolddate FOR EACH ROW EXECUTE FUNCTION guard_only_added_to();

-- guard: trigger guard_change on sequence_change
CREATE TRIGGER guard_change BEFORE DELETE OR UPDATE ON sequence_change FOR EACH ROW EXECUTE FUNCTION guard_only_added_to();

-- guard: trigger guard_holdbefore_emptied on sequence_holdbefore
CREATE TRIGGER guard_holdbefore_emptied BEFORE TRUNCATE ON sequence_holdbefore FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();

-- guard: trigger guard_relationship_emptied on sequence_relationship
CREATE TRIGGER guard_relationship_emptied BEFORE TRUNCATE ON sequence_relationship FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();

-- guard: trigger guard_tolddate_emptied on sequence_tolddate
CREATE TRIGGER guard_tolddate_emptied BEFORE TRUNCATE ON sequence_tolddate FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();

-- guard: trigger guard_change_emptied on sequence_change
CREATE TRIGGER guard_change_emptied BEFORE TRUNCATE ON sequence_change FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();

-- guard: trigger guard_covering_emptied on sequence_covering
CREATE TRIGGER guard_covering_emptied BEFORE TRUNCATE ON sequence_covering FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();

-- guard: trigger guard_installer_emptied on sequence_installer
CREATE TRIGGER guard_installer_emptied BEFORE TRUNCATE ON sequence_installer FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();

-- guard: trigger guard_member_emptied on people_crewmember
CREATE TRIGGER guard_member_emptied BEFORE TRUNCATE ON people_crewmember FOR EACH STATEMENT EXECUTE FUNCTION guard_never_emptied();
