-- Rule 1 on SQLite: no firm booking stands behind an open hold, whoever writes, with whatever pragma.
--
-- One writer at a time, so no lock is needed. `INSERT INTO guard_judge` is a call: the view has no rows, and
-- its INSTEAD OF trigger looks at one house and refuses the statement when the house breaks the rule. The
-- trigger on guard_judge is the one place that says what 'behind an open hold' means:
--   stored: HoldBefore names the hold and the visit; or
--   lived:  a path of FS or SS relationships with lag >= 0 leads from a holding point to the visit, and the
--           point's hold is open or is not there at all; or
--   buried: an activity of the visit covers something that is judged before at the hold's point, so cutting
--           the path helps nobody past it.
--
-- REPLACE deletes rows without firing delete triggers, so a REPLACE that would hit a row is refused outright.
--
-- What the three readings read is taken away only while a house is written anew after its sequence: the diary,
-- which is only added to, says 'rewriting' when that begins and 'changed' when it is done. Between the two nothing
-- becomes firm, and the nightly recount names a house that is left so, or that lacks what its sequence asks for.

-- guard: view guard_rewriting
CREATE VIEW guard_rewriting AS
  SELECT c.house_id FROM sequence_change c WHERE c.what = 'rewriting' AND NOT EXISTS (
    SELECT 1 FROM sequence_change d WHERE d.house_id = c.house_id AND d.what = 'changed' AND d.id > c.id);

-- guard: view guard_judge
CREATE VIEW guard_judge AS SELECT 0 AS house_id WHERE 0;

-- guard: trigger guard_judge_house on guard_judge
CREATE TRIGGER guard_judge_house INSTEAD OF INSERT ON guard_judge
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a firm booking would stand behind an open hold')
  WHERE EXISTS (
    SELECT 1 FROM sequence_booking b
    JOIN sequence_holdbefore f ON f.visit_id = b.visit_id
    JOIN sequence_hold h ON h.id = f.hold_id
    WHERE b.house_id = NEW.house_id AND b.state = 'firm'
      AND h.lifted_at IS NULL AND h.set_aside_at IS NULL
  ) OR EXISTS (
    SELECT 1 FROM sequence_booking b
    JOIN sequence_activity a ON a.visit_id = b.visit_id
    JOIN sequence_covering c ON c.activity_id = a.id AND NOT c.along
    JOIN sequence_hold h ON h.point_id = c.point_id
    WHERE b.house_id = NEW.house_id AND b.state = 'firm'
      AND h.lifted_at IS NULL AND h.set_aside_at IS NULL
  ) OR EXISTS (
    WITH RECURSIVE before (activity_id) AS (
      SELECT r.predecessor_id FROM sequence_booking b
      JOIN sequence_activity a ON a.visit_id = b.visit_id
      JOIN sequence_relationship r ON r.successor_id = a.id AND r.kind IN ('FS', 'SS') AND r.lag >= 0
      WHERE b.house_id = NEW.house_id AND b.state = 'firm'
      UNION
      SELECT r.predecessor_id FROM before
      JOIN sequence_relationship r ON r.successor_id = before.activity_id
        AND r.kind IN ('FS', 'SS') AND r.lag >= 0
    )
    SELECT 1 FROM before
    JOIN sequence_activity p ON p.id = before.activity_id
    LEFT JOIN sequence_hold h ON h.point_id = p.id
    WHERE (h.id IS NULL AND p.point_kind IN ('hold', 'hold from photographs'))
       OR (h.id IS NOT NULL AND h.lifted_at IS NULL AND h.set_aside_at IS NULL)
  );
END;

-- guard: trigger guard_booking_replace on sequence_booking
CREATE TRIGGER guard_booking_replace BEFORE INSERT ON sequence_booking
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a booking is never replaced; change it or make a new one')
  WHERE EXISTS (
    SELECT 1 FROM sequence_booking WHERE id = NEW.id OR uid = NEW.uid
      OR (visit_id = NEW.visit_id AND state IN ('asked', 'pencilled', 'firm', 'under way', 'done')
        AND NEW.state IN ('asked', 'pencilled', 'firm', 'under way', 'done')));
END;

-- guard: trigger guard_booking_rename on sequence_booking
CREATE TRIGGER guard_booking_rename BEFORE UPDATE ON sequence_booking
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: id, calendar id, house and crew of a booking stay')
  WHERE NEW.id IS NOT OLD.id OR NEW.uid IS NOT OLD.uid OR NEW.house_id IS NOT OLD.house_id
    OR NEW.crew_id IS NOT OLD.crew_id;
  SELECT RAISE(ABORT, 'guard refuses: the visit has another live booking')
  WHERE NEW.state IN ('asked', 'pencilled', 'firm', 'under way', 'done') AND EXISTS (
    SELECT 1 FROM sequence_booking WHERE visit_id = NEW.visit_id AND id <> NEW.id
      AND state IN ('asked', 'pencilled', 'firm', 'under way', 'done'));
END;

-- guard: trigger guard_booking_insert on sequence_booking
CREATE TRIGGER guard_booking_insert AFTER INSERT ON sequence_booking
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a booking has no such state')
  WHERE (NEW.state IN ('asked', 'pencilled', 'firm', 'under way', 'done', 'declined', 'stood down')) IS NOT 1;
  SELECT RAISE(ABORT, 'guard refuses: the house is being written anew, nothing becomes firm')
  WHERE NEW.state = 'firm' AND NEW.house_id IN (SELECT house_id FROM guard_rewriting);
  SELECT RAISE(ABORT, 'guard refuses: the booking names a visit of another house')
  WHERE NEW.house_id IS NOT (SELECT house_id FROM sequence_visit WHERE id = NEW.visit_id);
  SELECT RAISE(ABORT, 'guard refuses: a holding point of the house has no hold')
  WHERE NEW.state = 'firm' AND EXISTS (
    SELECT 1 FROM sequence_activity p WHERE p.house_id = NEW.house_id
      AND p.point_kind IN ('hold', 'hold from photographs')
      AND NOT EXISTS (SELECT 1 FROM sequence_hold h WHERE h.point_id = p.id));
  INSERT INTO guard_judge (house_id) VALUES (NEW.house_id);
END;

-- guard: trigger guard_booking_update on sequence_booking
CREATE TRIGGER guard_booking_update AFTER UPDATE ON sequence_booking
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a booking has no such state')
  WHERE (NEW.state IN ('asked', 'pencilled', 'firm', 'under way', 'done', 'declined', 'stood down')) IS NOT 1;
  SELECT RAISE(ABORT, 'guard refuses: the house is being written anew, nothing becomes firm')
  WHERE NEW.state = 'firm' AND OLD.state <> 'firm' AND NEW.house_id IN (SELECT house_id FROM guard_rewriting);
  SELECT RAISE(ABORT, 'guard refuses: the booking names a visit of another house')
  WHERE NEW.house_id IS NOT (SELECT house_id FROM sequence_visit WHERE id = NEW.visit_id);
  SELECT RAISE(ABORT, 'guard refuses: a holding point of the house has no hold')
  WHERE NEW.state = 'firm' AND OLD.state <> 'firm' AND EXISTS (
    SELECT 1 FROM sequence_activity p WHERE p.house_id = NEW.house_id
      AND p.point_kind IN ('hold', 'hold from photographs')
      AND NOT EXISTS (SELECT 1 FROM sequence_hold h WHERE h.point_id = p.id));
  INSERT INTO guard_judge (house_id) SELECT NEW.house_id WHERE NEW.state = 'firm';
END;

-- guard: trigger guard_booking_delete on sequence_booking
CREATE TRIGGER guard_booking_delete BEFORE DELETE ON sequence_booking
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a booking is never deleted, only stood down');
END;

-- guard: trigger guard_hold_replace on sequence_hold
CREATE TRIGGER guard_hold_replace BEFORE INSERT ON sequence_hold
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a hold is never replaced')
  WHERE EXISTS (SELECT 1 FROM sequence_hold WHERE id = NEW.id OR point_id = NEW.point_id);
END;

-- guard: trigger guard_hold_rename on sequence_hold
CREATE TRIGGER guard_hold_rename BEFORE UPDATE ON sequence_hold
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: id, point and house of a hold stay')
  WHERE NEW.id IS NOT OLD.id OR NEW.point_id IS NOT OLD.point_id OR NEW.house_id IS NOT OLD.house_id;
END;

-- guard: trigger guard_hold_insert on sequence_hold
CREATE TRIGGER guard_hold_insert AFTER INSERT ON sequence_hold
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the hold names a point of another house')
  WHERE NEW.house_id IS NOT (SELECT house_id FROM sequence_activity WHERE id = NEW.point_id);
  SELECT RAISE(ABORT, 'guard refuses: a hold is set aside only in a house that was brought in half built')
  WHERE NEW.set_aside_at IS NOT NULL AND NOT EXISTS (
    SELECT 1 FROM sequence_change WHERE house_id = NEW.house_id AND what = 'stated');
  SELECT RAISE(ABORT, 'guard refuses: what covers behind this hold is not finished, so it is not set aside')
  WHERE NEW.set_aside_at IS NOT NULL AND EXISTS (
    SELECT 1 FROM sequence_covering c JOIN sequence_detail d ON d.id = c.detail_id
    JOIN sequence_activity a ON a.id = c.activity_id
    WHERE coalesce(c.point_id, d.point_id) = NEW.point_id AND a.actual_finish IS NULL);
  INSERT INTO guard_judge (house_id) VALUES (NEW.house_id);
END;

-- guard: trigger guard_hold_update on sequence_hold
CREATE TRIGGER guard_hold_update AFTER UPDATE ON sequence_hold
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a hold is set aside only in a house that was brought in half built')
  WHERE NEW.set_aside_at IS NOT NULL AND OLD.set_aside_at IS NULL AND NOT EXISTS (
    SELECT 1 FROM sequence_change WHERE house_id = NEW.house_id AND what = 'stated');
  SELECT RAISE(ABORT, 'guard refuses: what covers behind this hold is not finished, so it is not set aside')
  WHERE NEW.set_aside_at IS NOT NULL AND OLD.set_aside_at IS NULL AND EXISTS (
    SELECT 1 FROM sequence_covering c JOIN sequence_detail d ON d.id = c.detail_id
    JOIN sequence_activity a ON a.id = c.activity_id
    WHERE coalesce(c.point_id, d.point_id) = NEW.point_id AND a.actual_finish IS NULL);
  INSERT INTO guard_judge (house_id) VALUES (NEW.house_id);
END;

-- guard: trigger guard_hold_delete on sequence_hold
CREATE TRIGGER guard_hold_delete BEFORE DELETE ON sequence_hold
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a hold is never deleted, only released or set aside');
END;

-- guard: trigger guard_before_replace on sequence_holdbefore
CREATE TRIGGER guard_before_replace BEFORE INSERT ON sequence_holdbefore
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: hold and visit are joined already')
  WHERE EXISTS (
    SELECT 1 FROM sequence_holdbefore
    WHERE id = NEW.id OR (hold_id = NEW.hold_id AND visit_id = NEW.visit_id));
END;

-- guard: trigger guard_before_rename on sequence_holdbefore
CREATE TRIGGER guard_before_rename BEFORE UPDATE ON sequence_holdbefore
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: which hold is before which visit is added or removed, never changed')
  WHERE NEW.id IS NOT OLD.id OR NEW.hold_id IS NOT OLD.hold_id OR NEW.visit_id IS NOT OLD.visit_id;
END;

-- guard: trigger guard_before_insert on sequence_holdbefore
CREATE TRIGGER guard_before_insert AFTER INSERT ON sequence_holdbefore
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: hold and visit are of different houses')
  WHERE (SELECT house_id FROM sequence_hold WHERE id = NEW.hold_id)
    IS NOT (SELECT house_id FROM sequence_visit WHERE id = NEW.visit_id);
  INSERT INTO guard_judge (house_id) SELECT house_id FROM sequence_visit WHERE id = NEW.visit_id;
END;

-- guard: trigger guard_activity_replace on sequence_activity
CREATE TRIGGER guard_activity_replace BEFORE INSERT ON sequence_activity
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: an activity is never replaced')
  WHERE EXISTS (
    SELECT 1 FROM sequence_activity
    WHERE id = NEW.id OR (house_id = NEW.house_id AND (key = NEW.key OR (is_stake AND NEW.is_stake))));
END;

-- guard: trigger guard_activity_rename on sequence_activity
CREATE TRIGGER guard_activity_rename BEFORE UPDATE ON sequence_activity
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: id and house of an activity stay')
  WHERE NEW.id IS NOT OLD.id OR NEW.house_id IS NOT OLD.house_id;
  SELECT RAISE(ABORT, 'guard refuses: a holding point stays one')
  WHERE OLD.point_kind IN ('hold', 'hold from photographs')
    AND NEW.point_kind NOT IN ('hold', 'hold from photographs');
  SELECT RAISE(ABORT, 'guard refuses: another activity of the house has this key or is its stake')
  WHERE EXISTS (
    SELECT 1 FROM sequence_activity
    WHERE house_id = NEW.house_id AND id <> NEW.id AND (key = NEW.key OR (is_stake AND NEW.is_stake)));
END;

-- guard: trigger guard_activity_insert on sequence_activity
CREATE TRIGGER guard_activity_insert AFTER INSERT ON sequence_activity
WHEN NEW.visit_id IS NOT NULL
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the activity names a visit of another house')
  WHERE NEW.house_id IS NOT (SELECT house_id FROM sequence_visit WHERE id = NEW.visit_id);
END;

-- guard: trigger guard_activity_update on sequence_activity
CREATE TRIGGER guard_activity_update AFTER UPDATE ON sequence_activity
WHEN NEW.visit_id IS NOT OLD.visit_id OR NEW.point_kind IS NOT OLD.point_kind
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the activity names a visit of another house')
  WHERE NEW.visit_id IS NOT NULL
    AND NEW.house_id IS NOT (SELECT house_id FROM sequence_visit WHERE id = NEW.visit_id);
  SELECT RAISE(ABORT, 'guard refuses: work leaves its visit only when the house is written anew')
  WHERE OLD.visit_id IS NOT NULL AND NEW.visit_id IS NOT OLD.visit_id
    AND NEW.house_id NOT IN (SELECT house_id FROM guard_rewriting);
  INSERT INTO guard_judge (house_id) VALUES (NEW.house_id);
END;

-- guard: trigger guard_visit_replace on sequence_visit
CREATE TRIGGER guard_visit_replace BEFORE INSERT ON sequence_visit
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a visit is never replaced')
  WHERE EXISTS (
    SELECT 1 FROM sequence_visit WHERE id = NEW.id OR (house_id = NEW.house_id AND key = NEW.key));
END;

-- guard: trigger guard_visit_rename on sequence_visit
CREATE TRIGGER guard_visit_rename BEFORE UPDATE ON sequence_visit
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: id and house of a visit stay')
  WHERE NEW.id IS NOT OLD.id OR NEW.house_id IS NOT OLD.house_id;
  SELECT RAISE(ABORT, 'guard refuses: another visit of the house has this key')
  WHERE EXISTS (
    SELECT 1 FROM sequence_visit WHERE house_id = NEW.house_id AND key = NEW.key AND id <> NEW.id);
END;

-- guard: trigger guard_relationship_replace on sequence_relationship
CREATE TRIGGER guard_relationship_replace BEFORE INSERT ON sequence_relationship
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a relationship is never replaced')
  WHERE EXISTS (
    SELECT 1 FROM sequence_relationship
    WHERE id = NEW.id OR (predecessor_id = NEW.predecessor_id AND successor_id = NEW.successor_id
      AND kind = NEW.kind));
END;

-- guard: trigger guard_relationship_rename on sequence_relationship
CREATE TRIGGER guard_relationship_rename BEFORE UPDATE ON sequence_relationship
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: id and house of a relationship stay')
  WHERE NEW.id IS NOT OLD.id OR NEW.house_id IS NOT OLD.house_id;
  SELECT RAISE(ABORT, 'guard refuses: the two activities are joined in this way already')
  WHERE EXISTS (
    SELECT 1 FROM sequence_relationship
    WHERE predecessor_id = NEW.predecessor_id AND successor_id = NEW.successor_id
      AND kind = NEW.kind AND id <> NEW.id);
END;

-- guard: trigger guard_relationship_insert on sequence_relationship
CREATE TRIGGER guard_relationship_insert AFTER INSERT ON sequence_relationship
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the relationship joins activities of different houses')
  WHERE NEW.house_id IS NOT (SELECT house_id FROM sequence_activity WHERE id = NEW.predecessor_id)
     OR NEW.house_id IS NOT (SELECT house_id FROM sequence_activity WHERE id = NEW.successor_id);
  INSERT INTO guard_judge (house_id) VALUES (NEW.house_id);
END;

-- guard: trigger guard_relationship_update on sequence_relationship
CREATE TRIGGER guard_relationship_update AFTER UPDATE ON sequence_relationship
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the relationship joins activities of different houses')
  WHERE NEW.house_id IS NOT (SELECT house_id FROM sequence_activity WHERE id = NEW.predecessor_id)
     OR NEW.house_id IS NOT (SELECT house_id FROM sequence_activity WHERE id = NEW.successor_id);
  SELECT RAISE(ABORT, 'guard refuses: a relationship is loosened only when the house is written anew')
  WHERE OLD.kind IN ('FS', 'SS') AND OLD.lag >= 0
    AND (NEW.predecessor_id IS NOT OLD.predecessor_id OR NEW.successor_id IS NOT OLD.successor_id
      OR (NEW.kind IN ('FS', 'SS') AND NEW.lag >= 0) IS NOT 1)
    AND NEW.house_id NOT IN (SELECT house_id FROM guard_rewriting);
  INSERT INTO guard_judge (house_id) VALUES (NEW.house_id);
END;

-- guard: trigger guard_relationship_delete on sequence_relationship
CREATE TRIGGER guard_relationship_delete BEFORE DELETE ON sequence_relationship
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a relationship is taken out only when the house is written anew')
  WHERE OLD.kind IN ('FS', 'SS') AND OLD.lag >= 0
    AND OLD.house_id NOT IN (SELECT house_id FROM guard_rewriting);
END;

-- guard: trigger guard_covering_replace on sequence_covering
CREATE TRIGGER guard_covering_replace BEFORE INSERT ON sequence_covering
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a covering is never replaced')
  WHERE EXISTS (
    SELECT 1 FROM sequence_covering
    WHERE id = NEW.id OR (detail_id = NEW.detail_id AND activity_id = NEW.activity_id));
END;

-- guard: trigger guard_covering_insert on sequence_covering
CREATE TRIGGER guard_covering_insert AFTER INSERT ON sequence_covering
BEGIN
  INSERT INTO guard_judge (house_id) SELECT house_id FROM sequence_activity WHERE id = NEW.activity_id;
END;

-- guard: trigger guard_covering_update on sequence_covering
CREATE TRIGGER guard_covering_update AFTER UPDATE ON sequence_covering
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: what covers what is changed only when the house is written anew')
  WHERE NEW.id IS NOT OLD.id OR (
    (NEW.detail_id IS NOT OLD.detail_id OR NEW.activity_id IS NOT OLD.activity_id
      OR NEW.point_id IS NOT OLD.point_id OR NEW.along IS NOT OLD.along)
    AND NOT EXISTS (
      SELECT 1 FROM sequence_detail WHERE id = OLD.detail_id
        AND house_id IN (SELECT house_id FROM guard_rewriting)));
  INSERT INTO guard_judge (house_id) SELECT house_id FROM sequence_activity WHERE id = NEW.activity_id;
END;

-- guard: trigger guard_covering_delete on sequence_covering
CREATE TRIGGER guard_covering_delete BEFORE DELETE ON sequence_covering
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: what covers what is taken out only when the house is written anew')
  WHERE NOT EXISTS (
    SELECT 1 FROM sequence_detail WHERE id = OLD.detail_id
      AND house_id IN (SELECT house_id FROM guard_rewriting));
END;

-- Who installed a detail does not sign for it, and no row is made to say otherwise afterwards.

-- guard: trigger guard_installer_replace on sequence_installer
CREATE TRIGGER guard_installer_replace BEFORE INSERT ON sequence_installer
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: who installs what is never replaced')
  WHERE EXISTS (
    SELECT 1 FROM sequence_installer
    WHERE id = NEW.id OR (detail_id = NEW.detail_id AND activity_id = NEW.activity_id));
END;

-- guard: trigger guard_installer_update on sequence_installer
CREATE TRIGGER guard_installer_update BEFORE UPDATE ON sequence_installer
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: who installs what is added or taken out, never changed');
END;

-- guard: trigger guard_installer_delete on sequence_installer
CREATE TRIGGER guard_installer_delete BEFORE DELETE ON sequence_installer
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: who installs what is taken out only when the house is written anew')
  WHERE NOT EXISTS (
    SELECT 1 FROM sequence_detail WHERE id = OLD.detail_id
      AND house_id IN (SELECT house_id FROM guard_rewriting));
END;

-- guard: trigger guard_member_replace on people_crewmember
CREATE TRIGGER guard_member_replace BEFORE INSERT ON people_crewmember
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a member of a crew is never replaced')
  WHERE EXISTS (
    SELECT 1 FROM people_crewmember
    WHERE id = NEW.id OR (crew_id = NEW.crew_id AND person_id = NEW.person_id));
END;

-- guard: trigger guard_member_update on people_crewmember
CREATE TRIGGER guard_member_update BEFORE UPDATE ON people_crewmember
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: crew and person of a membership stay; say when it ended')
  WHERE NEW.id IS NOT OLD.id OR NEW.crew_id IS NOT OLD.crew_id OR NEW.person_id IS NOT OLD.person_id;
END;

-- guard: trigger guard_member_delete on people_crewmember
CREATE TRIGGER guard_member_delete BEFORE DELETE ON people_crewmember
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: who was in a crew stays on the list; say when it ended');
END;

-- What was told and the house's diary are only added to.

-- guard: trigger guard_tolddate_replace on sequence_tolddate
CREATE TRIGGER guard_tolddate_replace BEFORE INSERT ON sequence_tolddate
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: what was told is only added to')
  WHERE EXISTS (SELECT 1 FROM sequence_tolddate WHERE id = NEW.id);
END;

-- guard: trigger guard_tolddate_update on sequence_tolddate
CREATE TRIGGER guard_tolddate_update BEFORE UPDATE ON sequence_tolddate
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: what was told is only added to');
END;

-- guard: trigger guard_tolddate_delete on sequence_tolddate
CREATE TRIGGER guard_tolddate_delete BEFORE DELETE ON sequence_tolddate
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: what was told is only added to');
END;

-- guard: trigger guard_change_replace on sequence_change
CREATE TRIGGER guard_change_replace BEFORE INSERT ON sequence_change
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the diary is only added to')
  WHERE EXISTS (SELECT 1 FROM sequence_change WHERE id = NEW.id);
END;

-- guard: trigger guard_change_update on sequence_change
CREATE TRIGGER guard_change_update BEFORE UPDATE ON sequence_change
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the diary is only added to');
END;

-- guard: trigger guard_change_delete on sequence_change
CREATE TRIGGER guard_change_delete BEFORE DELETE ON sequence_change
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the diary is only added to');
END;
