-- The record on SQLite: what was found, signed, conceded and re-opened is only added to, a hold is lifted only by
-- what the record says, and what has to be met for that is not taken away. Read coordination/sequence/sql first:
-- the view guard_rewriting is there.
--
-- guard_standing names the releases that stand: signed in a role that may, with an entry of the record, and no
-- re-opening of the point entered after it. The record's own numbers say what was after what, and no clock.

-- guard: view guard_standing
CREATE VIEW guard_standing AS
  SELECT r.id AS release_id, i.id AS inspection_id, i.point_id, r.section
  FROM hold_points_release r
  JOIN hold_points_inspection i ON i.id = r.inspection_id
  JOIN hold_points_recordentry e ON e.house_id = i.house_id
    AND e.kind = CASE WHEN r.section = '' THEN 'release' ELSE 'part release' END
    AND replace(json_extract(e.text, '$.facts.release'), '-', '') = r.id
  WHERE r.role IN ('supervisor', 'assessor') AND NOT EXISTS (
    SELECT 1 FROM hold_points_reopening o WHERE o.inspection_id = i.id AND NOT EXISTS (
      SELECT 1 FROM hold_points_recordentry x
      WHERE x.house_id = i.house_id AND x.n < e.n AND x.kind = 're-opening'
        AND json_extract(x.text, '$.facts.reopening') = o.id));

-- guard_lifting names the releases that lift the hold of their point: of the whole, or of a part when every part
-- that has checks is released.

-- guard: view guard_lifting
CREATE VIEW guard_lifting AS
  SELECT g.release_id, g.point_id FROM guard_standing g
  WHERE g.section = '' OR (
    EXISTS (
      SELECT 1 FROM hold_points_check c
      WHERE c.inspection_id = g.inspection_id AND c.withdrawn_at IS NULL AND c.section = g.section)
    AND NOT EXISTS (
      SELECT 1 FROM hold_points_check c
      WHERE c.inspection_id = g.inspection_id AND c.withdrawn_at IS NULL AND NOT EXISTS (
        SELECT 1 FROM guard_standing p
        WHERE p.inspection_id = g.inspection_id AND p.section IN ('', c.section))));

-- guard: trigger guard_lift_insert on sequence_hold
CREATE TRIGGER guard_lift_insert AFTER INSERT ON sequence_hold
WHEN NEW.lifted_by IS NOT NULL OR NEW.lifted_at IS NOT NULL
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a hold is lifted only by a release of its point that stands in the record')
  WHERE NOT EXISTS (
    SELECT 1 FROM guard_lifting WHERE release_id = NEW.lifted_by AND point_id = NEW.point_id);
END;

-- guard: trigger guard_lift_update on sequence_hold
CREATE TRIGGER guard_lift_update AFTER UPDATE ON sequence_hold
WHEN NEW.lifted_at IS NOT NULL
  AND (OLD.lifted_at IS NULL OR NEW.lifted_by IS NOT OLD.lifted_by OR NEW.point_id IS NOT OLD.point_id)
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a hold is lifted only by a release of its point that stands in the record')
  WHERE NOT EXISTS (
    SELECT 1 FROM guard_lifting WHERE release_id = NEW.lifted_by AND point_id = NEW.point_id);
END;

-- What has to be met for a release is not taken away: an inspection stays at its point, a check asks what it
-- asked, and is withdrawn only while the house is written anew after its sequence.

-- guard: trigger guard_inspection_replace on hold_points_inspection
CREATE TRIGGER guard_inspection_replace BEFORE INSERT ON hold_points_inspection
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: an inspection is never replaced')
  WHERE EXISTS (SELECT 1 FROM hold_points_inspection WHERE id = NEW.id OR point_id = NEW.point_id);
END;

-- guard: trigger guard_inspection_insert on hold_points_inspection
CREATE TRIGGER guard_inspection_insert AFTER INSERT ON hold_points_inspection
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the inspection names a point of another house')
  WHERE NEW.house_id IS NOT (SELECT house_id FROM sequence_activity WHERE id = NEW.point_id);
END;

-- guard: trigger guard_inspection_update on hold_points_inspection
CREATE TRIGGER guard_inspection_update BEFORE UPDATE ON hold_points_inspection
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: id, point and house of an inspection stay')
  WHERE NEW.id IS NOT OLD.id OR NEW.house_id IS NOT OLD.house_id OR NEW.point_id IS NOT OLD.point_id;
END;

-- guard: trigger guard_inspection_delete on hold_points_inspection
CREATE TRIGGER guard_inspection_delete BEFORE DELETE ON hold_points_inspection
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: the inspection of a hold point is never deleted')
  WHERE EXISTS (SELECT 1 FROM sequence_hold WHERE point_id = OLD.point_id)
    OR OLD.house_id NOT IN (SELECT house_id FROM guard_rewriting);
END;

-- guard: trigger guard_check_replace on hold_points_check
CREATE TRIGGER guard_check_replace BEFORE INSERT ON hold_points_check
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a check is never replaced')
  WHERE EXISTS (
    SELECT 1 FROM hold_points_check
    WHERE id = NEW.id OR (inspection_id = NEW.inspection_id AND key = NEW.key AND version = NEW.version
      AND place_id IS NEW.place_id));
END;

-- guard: trigger guard_check_update on hold_points_check
CREATE TRIGGER guard_check_update BEFORE UPDATE ON hold_points_check
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: what a check asks stays; a changed one is a new version')
  WHERE NEW.id IS NOT OLD.id OR NEW.inspection_id IS NOT OLD.inspection_id OR NEW.key IS NOT OLD.key
    OR NEW.version IS NOT OLD.version OR NEW.place_id IS NOT OLD.place_id
    OR NEW.section IS NOT OLD.section OR NEW.text IS NOT OLD.text OR NEW.kind IS NOT OLD.kind
    OR NEW.unit IS NOT OLD.unit OR NEW.compare IS NOT OLD.compare OR NEW."limit" IS NOT OLD."limit"
    OR NEW.limit_high IS NOT OLD.limit_high OR NEW.evidence IS NOT OLD.evidence
    OR NEW.safety IS NOT OLD.safety OR NEW.found_on_site IS NOT OLD.found_on_site;
  SELECT RAISE(ABORT, 'guard refuses: what is looked at every time is not made a sample')
  WHERE OLD.sample = '{}' AND NEW.sample <> '{}';
  SELECT RAISE(ABORT, 'guard refuses: a check is withdrawn once, and only when the house is written anew')
  WHERE NEW.withdrawn_at IS NOT OLD.withdrawn_at AND (OLD.withdrawn_at IS NOT NULL OR NOT EXISTS (
    SELECT 1 FROM hold_points_inspection
    WHERE id = OLD.inspection_id AND house_id IN (SELECT house_id FROM guard_rewriting)));
END;

-- guard: trigger guard_check_delete on hold_points_check
CREATE TRIGGER guard_check_delete BEFORE DELETE ON hold_points_check
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: a check is taken out only when the house is written anew')
  WHERE NOT EXISTS (
    SELECT 1 FROM hold_points_inspection
    WHERE id = OLD.inspection_id AND house_id IN (SELECT house_id FROM guard_rewriting));
END;

-- guard: trigger guard_evidence_replace on hold_points_evidence
CREATE TRIGGER guard_evidence_replace BEFORE INSERT ON hold_points_evidence
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: evidence is never replaced')
  WHERE EXISTS (
    SELECT 1 FROM hold_points_evidence
    WHERE id = NEW.id OR (house_id = NEW.house_id AND sha256 = NEW.sha256));
END;

-- guard: trigger guard_evidence_update on hold_points_evidence
CREATE TRIGGER guard_evidence_update BEFORE UPDATE ON hold_points_evidence
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: what evidence is, and what it shows, stays')
  WHERE NEW.id IS NOT OLD.id OR NEW.house_id IS NOT OLD.house_id
    OR NEW.inspection_id IS NOT OLD.inspection_id OR NEW.check_shown_id IS NOT OLD.check_shown_id
    OR NEW.outcome_id IS NOT OLD.outcome_id OR NEW.nonconformity_id IS NOT OLD.nonconformity_id
    OR NEW.sha256 IS NOT OLD.sha256 OR NEW.size IS NOT OLD.size
    OR NEW.media_type IS NOT OLD.media_type OR NEW.original IS NOT OLD.original
    OR NEW.taken_at IS NOT OLD.taken_at OR NEW.received_at IS NOT OLD.received_at
    OR NEW.by_id IS NOT OLD.by_id OR NEW.crew_id IS NOT OLD.crew_id
    OR (NEW.detail_id IS NOT NULL AND NEW.detail_id IS NOT OLD.detail_id)
    OR (NEW.place_id IS NOT NULL AND NEW.place_id IS NOT OLD.place_id);
END;

-- guard: trigger guard_evidence_delete on hold_points_evidence
CREATE TRIGGER guard_evidence_delete BEFORE DELETE ON hold_points_evidence
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: evidence is never deleted');
END;

-- What was found not met is closed by a later outcome of the same check that is not 'not met' (or by one that
-- raises it anew: it was conceded, or asked in an older version); what went past a point by the point's release.

-- guard: trigger guard_nonconformity_replace on hold_points_nonconformity
CREATE TRIGGER guard_nonconformity_replace BEFORE INSERT ON hold_points_nonconformity
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: what is to be put right is never replaced')
  WHERE EXISTS (
    SELECT 1 FROM hold_points_nonconformity
    WHERE id = NEW.id OR raised_by_id = NEW.raised_by_id
      OR (NEW.state <> 'closed' AND state <> 'closed' AND (
        check_failed_id = NEW.check_failed_id
        OR (gone_past_id = NEW.gone_past_id AND visit_id = NEW.visit_id))));
END;

-- guard: trigger guard_nonconformity_update on hold_points_nonconformity
CREATE TRIGGER guard_nonconformity_update BEFORE UPDATE ON hold_points_nonconformity
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: what is to be put right stays what was found')
  WHERE NEW.id IS NOT OLD.id OR NEW.house_id IS NOT OLD.house_id
    OR NEW.check_failed_id IS NOT OLD.check_failed_id OR NEW.raised_by_id IS NOT OLD.raised_by_id
    OR NEW.gone_past_id IS NOT OLD.gone_past_id OR NEW.visit_id IS NOT OLD.visit_id
    OR NEW.raised_at IS NOT OLD.raised_at;
  SELECT RAISE(ABORT, 'guard refuses: what was closed stays closed, by the same outcome')
  WHERE OLD.state = 'closed' AND (NEW.state IS NOT OLD.state OR NEW.closed_by_id IS NOT OLD.closed_by_id);
  SELECT RAISE(ABORT, 'guard refuses: what is to be put right is closed only by a fresh outcome or a release')
  WHERE (NEW.state IN ('raised', 'put right')) IS NOT 1 AND OLD.state <> 'closed' AND NOT EXISTS (
    SELECT 1 FROM hold_points_outcome o
    JOIN hold_points_check c ON c.id = o.check_judged_id
    JOIN hold_points_check f ON f.id = NEW.check_failed_id
    WHERE o.id = NEW.closed_by_id AND o.id <> NEW.raised_by_id
      AND c.inspection_id = f.inspection_id AND c.key = f.key AND c.place_id IS f.place_id
      AND (o.kind IN ('met', 'put right', 'not on this house') OR (o.kind = 'not met' AND (
        c.id <> f.id OR EXISTS (SELECT 1 FROM hold_points_concession WHERE nonconformity_id = NEW.id))))
  ) AND NOT EXISTS (
    SELECT 1 FROM hold_points_inspection i JOIN sequence_hold h ON h.point_id = i.point_id
    WHERE i.id = NEW.gone_past_id AND h.lifted_at IS NOT NULL);
END;

-- guard: trigger guard_nonconformity_delete on hold_points_nonconformity
CREATE TRIGGER guard_nonconformity_delete BEFORE DELETE ON hold_points_nonconformity
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: what is to be put right is never deleted');
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

-- guard: trigger guard_statement_replace on hold_points_statement
CREATE TRIGGER guard_statement_replace BEFORE INSERT ON hold_points_statement
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: statements: rows are only added')
  WHERE EXISTS (SELECT 1 FROM hold_points_statement WHERE id = NEW.id);
END;

-- guard: trigger guard_statement_update on hold_points_statement
CREATE TRIGGER guard_statement_update BEFORE UPDATE ON hold_points_statement
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: statements: rows are only added');
END;

-- guard: trigger guard_statement_delete on hold_points_statement
CREATE TRIGGER guard_statement_delete BEFORE DELETE ON hold_points_statement
BEGIN
  SELECT RAISE(ABORT, 'guard refuses: statements: rows are only added');
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
