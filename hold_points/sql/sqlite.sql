-- The record on SQLite: what was found, signed, conceded and re-opened is only added to, and a hold is lifted
-- only by a release of its own point that is in the record. Read coordination/sequence/sql first.

-- guard: trigger guard_lift_insert on sequence_hold
CREATE TRIGGER guard_lift_insert AFTER INSERT ON sequence_hold
WHEN NEW.lifted_by IS NOT NULL OR NEW.lifted_at IS NOT NULL
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a hold is lifted only by a release of its point that stands in the record')
  WHERE NOT EXISTS (
    SELECT 1 FROM hold_points_release r JOIN hold_points_inspection i ON i.id = r.inspection_id
    WHERE r.id = NEW.lifted_by AND i.point_id = NEW.point_id
      AND NOT EXISTS (
        SELECT 1 FROM hold_points_reopening o
        WHERE o.inspection_id = i.id AND o.at > r.received_at));
END;

-- guard: trigger guard_lift_update on sequence_hold
CREATE TRIGGER guard_lift_update AFTER UPDATE ON sequence_hold
WHEN NEW.lifted_at IS NOT NULL
  AND (OLD.lifted_at IS NULL OR NEW.lifted_by IS NOT OLD.lifted_by OR NEW.point_id IS NOT OLD.point_id)
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a hold is lifted only by a release of its point that stands in the record')
  WHERE NOT EXISTS (
    SELECT 1 FROM hold_points_release r JOIN hold_points_inspection i ON i.id = r.inspection_id
    WHERE r.id = NEW.lifted_by AND i.point_id = NEW.point_id
      AND NOT EXISTS (
        SELECT 1 FROM hold_points_reopening o
        WHERE o.inspection_id = i.id AND o.at > r.received_at));
END;

-- guard: trigger guard_recordentry_replace on hold_points_recordentry
CREATE TRIGGER guard_recordentry_replace BEFORE INSERT ON hold_points_recordentry
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the record: rows are only added')
  WHERE EXISTS (SELECT 1 FROM hold_points_recordentry WHERE id = NEW.id OR (house_id = NEW.house_id AND (n = NEW.n OR hash = NEW.hash)));
END;

-- guard: trigger guard_recordentry_update on hold_points_recordentry
CREATE TRIGGER guard_recordentry_update BEFORE UPDATE ON hold_points_recordentry
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the record: rows are only added');
END;

-- guard: trigger guard_recordentry_delete on hold_points_recordentry
CREATE TRIGGER guard_recordentry_delete BEFORE DELETE ON hold_points_recordentry
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the record: rows are only added');
END;

-- guard: trigger guard_outcome_replace on hold_points_outcome
CREATE TRIGGER guard_outcome_replace BEFORE INSERT ON hold_points_outcome
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: outcomes: rows are only added')
  WHERE EXISTS (SELECT 1 FROM hold_points_outcome WHERE id = NEW.id);
END;

-- guard: trigger guard_outcome_update on hold_points_outcome
CREATE TRIGGER guard_outcome_update BEFORE UPDATE ON hold_points_outcome
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: outcomes: rows are only added');
END;

-- guard: trigger guard_outcome_delete on hold_points_outcome
CREATE TRIGGER guard_outcome_delete BEFORE DELETE ON hold_points_outcome
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: outcomes: rows are only added');
END;

-- guard: trigger guard_release_replace on hold_points_release
CREATE TRIGGER guard_release_replace BEFORE INSERT ON hold_points_release
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: releases: rows are only added')
  WHERE EXISTS (SELECT 1 FROM hold_points_release WHERE id = NEW.id);
END;

-- guard: trigger guard_release_update on hold_points_release
CREATE TRIGGER guard_release_update BEFORE UPDATE ON hold_points_release
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: releases: rows are only added');
END;

-- guard: trigger guard_release_delete on hold_points_release
CREATE TRIGGER guard_release_delete BEFORE DELETE ON hold_points_release
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: releases: rows are only added');
END;

-- guard: trigger guard_concession_replace on hold_points_concession
CREATE TRIGGER guard_concession_replace BEFORE INSERT ON hold_points_concession
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: concessions: rows are only added')
  WHERE EXISTS (SELECT 1 FROM hold_points_concession WHERE id = NEW.id OR nonconformity_id = NEW.nonconformity_id);
END;

-- guard: trigger guard_concession_update on hold_points_concession
CREATE TRIGGER guard_concession_update BEFORE UPDATE ON hold_points_concession
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: concessions: rows are only added');
END;

-- guard: trigger guard_concession_delete on hold_points_concession
CREATE TRIGGER guard_concession_delete BEFORE DELETE ON hold_points_concession
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: concessions: rows are only added');
END;

-- guard: trigger guard_reopening_replace on hold_points_reopening
CREATE TRIGGER guard_reopening_replace BEFORE INSERT ON hold_points_reopening
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: re-openings: rows are only added')
  WHERE EXISTS (SELECT 1 FROM hold_points_reopening WHERE id = NEW.id);
END;

-- guard: trigger guard_reopening_update on hold_points_reopening
CREATE TRIGGER guard_reopening_update BEFORE UPDATE ON hold_points_reopening
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: re-openings: rows are only added');
END;

-- guard: trigger guard_reopening_delete on hold_points_reopening
CREATE TRIGGER guard_reopening_delete BEFORE DELETE ON hold_points_reopening
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: re-openings: rows are only added');
END;

-- guard: trigger guard_reopening_places_replace on hold_points_reopening_places
CREATE TRIGGER guard_reopening_places_replace BEFORE INSERT ON hold_points_reopening_places
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: re-openings: rows are only added')
  WHERE EXISTS (SELECT 1 FROM hold_points_reopening_places WHERE id = NEW.id OR (reopening_id = NEW.reopening_id AND place_id = NEW.place_id));
END;

-- guard: trigger guard_reopening_places_update on hold_points_reopening_places
CREATE TRIGGER guard_reopening_places_update BEFORE UPDATE ON hold_points_reopening_places
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: re-openings: rows are only added');
END;

-- guard: trigger guard_reopening_places_delete on hold_points_reopening_places
CREATE TRIGGER guard_reopening_places_delete BEFORE DELETE ON hold_points_reopening_places
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: re-openings: rows are only added');
END;

-- guard: trigger guard_seal_replace on hold_points_seal
CREATE TRIGGER guard_seal_replace BEFORE INSERT ON hold_points_seal
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: seals: rows are only added')
  WHERE EXISTS (SELECT 1 FROM hold_points_seal WHERE id = NEW.id OR (builder_id = NEW.builder_id AND n = NEW.n));
END;

-- guard: trigger guard_seal_update on hold_points_seal
CREATE TRIGGER guard_seal_update BEFORE UPDATE ON hold_points_seal
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: seals: rows are only added');
END;

-- guard: trigger guard_seal_delete on hold_points_seal
CREATE TRIGGER guard_seal_delete BEFORE DELETE ON hold_points_seal
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: seals: rows are only added');
END;
