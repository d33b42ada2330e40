"""Statements that would leave a firm booking behind an open hold, lift a hold by hand, or touch the record.

Each is a list of statements of one transaction; the last must be refused. Ids in braces are those of `seed`.
`BEGIN_REWRITING` is what the diary says, for good, when a house is written anew after its sequence.
"""

Attack = tuple[str, ...]

COLUMNS = (
    "house_id, visit_id, crew_id, state, told_start, told_finish, on_site, went_past_hold, uid, sequence,"
    " stand_down_reason, made_at, changed_at"
)
VALUES = (
    "{b_house}, {b_visit_board}, {b_crew_board}, 'firm', {start}, {start}, false, false, '{uid}', 0, '',"
    " '2026-04-13 00:00:00+00', '2026-04-13 00:00:00+00'"
)
HOLD_COLUMNS = "(id, house_id, point_id, label, page, set_aside_why)"
OPEN_HOLD = "VALUES ({a_hold}, {a_house}, {a_act_H5}, 'x', '', '')"
UPSERT = (
    f"INSERT INTO sequence_hold {HOLD_COLUMNS} {OPEN_HOLD}"
    " ON CONFLICT (id) DO UPDATE SET lifted_at = NULL, lifted_by = NULL"
)
RELATION = "sequence_relationship (house_id, predecessor_id, successor_id, kind, lag, lag_calendar)"
ACTIVITY = 'name, stage, "order", half_days, is_point, point_kind, walker, is_stake, outdoor'
DIARY = (
    "INSERT INTO sequence_change (house_id, at, what, about, words, facts)"
    " VALUES ({b_house}, '2026-04-13 00:00:00+00', '%s', '', '', '{{}}')"
)
BEGIN_REWRITING, END_REWRITING = DIARY % "rewriting", DIARY % "changed"
LIFT = "UPDATE sequence_hold SET lifted_at = '2026-04-13 00:00:00+00', lifted_by ="

EVERYWHERE: dict[str, Attack] = {
    "make a booking firm": ("UPDATE sequence_booking SET state = 'firm' WHERE id = {b_linings}",),
    "make all firm": ("UPDATE sequence_booking SET state = 'firm'",),
    "insert a firm booking": (f"INSERT INTO sequence_booking ({COLUMNS}) VALUES ({VALUES})",),
    "move a firm booking behind the hold": (
        "UPDATE sequence_booking SET visit_id = {b_visit_board} WHERE id = {b_frame}",
    ),
    "move a firm booking to another house": (
        "UPDATE sequence_booking SET house_id = {b_house}, visit_id = {b_visit_board} WHERE id = {a_linings}",
    ),
    "name another house's visit": (
        "UPDATE sequence_booking SET visit_id = {b_visit_board} WHERE id = {a_linings}",
    ),
    "open a hold before a firm booking": (
        "UPDATE sequence_hold SET lifted_at = NULL, lifted_by = NULL WHERE id = {a_hold}",
    ),
    "open all holds": ("UPDATE sequence_hold SET lifted_at = NULL, lifted_by = NULL",),
    "delete a lifted hold": ("DELETE FROM sequence_hold WHERE id = {a_hold}",),
    "delete an open hold": (
        "DELETE FROM sequence_holdbefore WHERE hold_id = {b_hold}",
        "DELETE FROM sequence_hold WHERE id = {b_hold}",
    ),
    "hide the hold, then firm": (
        "DELETE FROM sequence_holdbefore WHERE hold_id = {b_hold}",
        "UPDATE sequence_booking SET state = 'firm' WHERE id = {b_linings}",
    ),
    "cut the path and hide the hold, then firm": (
        "DELETE FROM sequence_holdbefore WHERE hold_id = {b_hold}",
        BEGIN_REWRITING,
        "DELETE FROM sequence_relationship WHERE predecessor_id = {b_act_H5}",
        END_REWRITING,
        "UPDATE sequence_booking SET state = 'firm' WHERE id = {b_linings}",
    ),
    "make the path an overlap and hide the hold, then firm": (
        "DELETE FROM sequence_holdbefore WHERE hold_id = {b_hold}",
        BEGIN_REWRITING,
        "UPDATE sequence_relationship SET lag = -1 WHERE predecessor_id = {b_act_H5}",
        END_REWRITING,
        "UPDATE sequence_booking SET state = 'firm' WHERE id = {b_linings}",
    ),
    "demote the point": ("UPDATE sequence_activity SET point_kind = 'witness' WHERE id = {b_act_H5}",),
    "move the hold to another point": (
        "UPDATE sequence_hold SET point_id = {b_act_wiring} WHERE id = {b_hold}",
    ),
    "move the hold to another house": ("UPDATE sequence_hold SET house_id = {a_house} WHERE id = {b_hold}",),
    "put an open hold before a firm booking": (
        "INSERT INTO sequence_holdbefore (hold_id, visit_id) VALUES ({b_hold}, {b_visit_frame})",
    ),
    "turn a hold to another visit": (
        "UPDATE sequence_holdbefore SET visit_id = {b_visit_frame}"
        " WHERE hold_id = {b_hold} AND visit_id = {b_visit_board}",
    ),
    "join an open point to firm work": (
        f"INSERT INTO {RELATION} VALUES ({{b_house}}, {{b_act_H5}}, {{b_act_frame}}, 'SS', 0, '')",
    ),
    "turn a relationship to firm work": (
        "UPDATE sequence_relationship SET successor_id = {b_act_frame}"
        " WHERE predecessor_id = {b_act_H5} AND successor_id = {b_act_board}",
    ),
    "move held work into a firm visit": (
        "UPDATE sequence_activity SET visit_id = {b_visit_frame} WHERE id = {b_act_board}",
    ),
    "let firm work cover what is not judged yet": (
        "UPDATE sequence_covering SET activity_id = {b_act_frame} WHERE activity_id = {b_act_linings}",
    ),
    "add a point without a hold and firm work behind it": (
        BEGIN_REWRITING,
        "UPDATE sequence_activity SET is_point = true, point_kind = 'hold', visit_id = NULL"
        " WHERE id = {b_act_board}",
        f"INSERT INTO {RELATION} VALUES ({{b_house}}, {{b_act_board}}, {{b_act_frame}}, 'FS', 0, '')",
    ),
    "move a visit to another house": (
        "UPDATE sequence_visit SET house_id = {a_house}, key = 'moved' WHERE id = {b_visit_linings}",
    ),
    "lift without a release": (f"{LIFT} '{{nobody}}' WHERE id = {{b_hold}}",),
    "lift with another point's release": (f"{LIFT} '{{release}}' WHERE id = {{b_hold}}",),
    "set aside what can still be checked": (
        "UPDATE sequence_hold SET set_aside_at = '2026-04-13 00:00:00+00', set_aside_by_id = {person},"
        " set_aside_why = 'because' WHERE id = {b_hold}",
    ),
    "give a booking another calendar id": (
        "UPDATE sequence_booking SET uid = '{uid}' WHERE id = {b_linings}",
    ),
    "renumber relationships": ("UPDATE sequence_relationship SET id = id + 1000",),
    "hold at another house's point": (
        "INSERT INTO sequence_hold (house_id, point_id, label, page, set_aside_why)"
        " VALUES ({b_house}, {a_act_wiring}, 'x', '', '')",
    ),
    "insert a hold that is lifted already": (
        "INSERT INTO sequence_hold (house_id, point_id, label, page, set_aside_why, lifted_at, lifted_by)"
        " VALUES ({b_house}, {b_act_wiring}, 'x', '', '', '2026-04-13 00:00:00+00', '{nobody}')",
    ),
    "insert work into another house's visit": (
        f"INSERT INTO sequence_activity ({ACTIVITY}, house_id, visit_id, key)"
        f" SELECT {ACTIVITY}, house_id, {{a_visit_frame}}, 'new' FROM sequence_activity"
        " WHERE id = {b_act_frame}",
    ),
    "add that firm work covers what is not judged yet": (
        "INSERT INTO sequence_covering (detail_id, activity_id, point_id, along)"
        " SELECT detail_id, {b_act_frame}, point_id, along FROM sequence_covering"
        " WHERE activity_id = {b_act_linings}",
    ),
    "cut the path": ("DELETE FROM sequence_relationship WHERE predecessor_id = {b_act_H5}",),
    "make the path an overlap": (
        "UPDATE sequence_relationship SET lag = -1 WHERE predecessor_id = {b_act_H5}",
    ),
    "let the path say nothing of a start": (
        "UPDATE sequence_relationship SET kind = 'FF' WHERE predecessor_id = {b_act_H5}",
    ),
    "uncover what is judged": ("DELETE FROM sequence_covering WHERE point_id = {b_act_H5}",),
    "judge nothing before it is covered": (
        "UPDATE sequence_covering SET point_id = NULL WHERE point_id = {b_act_H5}",
    ),
    "judge it at another point": (
        "UPDATE sequence_covering SET point_id = {b_act_frame} WHERE point_id = {b_act_H5}",
    ),
    "cover it only by its end": ("UPDATE sequence_covering SET along = true WHERE point_id = {b_act_H5}",),
    "take work out of a held visit": (
        "UPDATE sequence_activity SET visit_id = NULL WHERE id = {b_act_linings}",
    ),
    "firm while the house is written anew": (
        BEGIN_REWRITING,
        "UPDATE sequence_booking SET state = 'firm', visit_id = {b_visit_wiring} WHERE id = {b_linings}",
    ),
    "write a booking's state otherwise": (
        "UPDATE sequence_booking SET state = 'Firm' WHERE id = {b_linings}",
    ),
    "give a booking to another crew": (
        "UPDATE sequence_booking SET crew_id = {a_crew_frame} WHERE id = {b_linings}",
    ),
    "delete a booking": ("DELETE FROM sequence_booking WHERE id = {b_linings}",),
    "say that nobody installed it": ("DELETE FROM sequence_installer",),
    "say that others installed it": (
        "UPDATE sequence_installer SET activity_id = {b_act_frame} WHERE activity_id = {b_act_wiring}",
    ),
    "take somebody out of a crew": ("DELETE FROM people_crewmember",),
    "give a membership to somebody else": ("UPDATE people_crewmember SET person_id = {person}",),
    "set aside in a house that was not brought in": (
        "UPDATE sequence_activity SET actual_start = 1, actual_finish = 2 WHERE id = {b_act_linings}",
        "UPDATE sequence_hold SET set_aside_at = '2026-04-13 00:00:00+00', set_aside_by_id = {person},"
        " set_aside_why = 'because' WHERE id = {b_hold}",
    ),
    "lift with a release that is not in the record": (f"{LIFT} '{{unrecorded}}' WHERE id = {{b_hold}}",),
    "lift with the release of one part": (f"{LIFT} '{{part}}' WHERE id = {{b_hold}}",),
    "lift with a release in a role that may not": (f"{LIFT} '{{by_planner}}' WHERE id = {{b_hold}}",),
    "lift with a release from before the re-opening": (f"{LIFT} '{{overtaken}}' WHERE id = {{c_hold}}",),
    "move an inspection to another point": (
        "UPDATE hold_points_inspection SET point_id = {b_act_board} WHERE point_id = {b_act_H5}",
    ),
    "move an inspection to another house": (
        "UPDATE hold_points_inspection SET house_id = {b_house} WHERE point_id = {a_act_H5}",
    ),
    "inspect another house's point": (
        "INSERT INTO hold_points_inspection (house_id, point_id, sections, content, absent)"
        " VALUES ({a_house}, {b_act_wiring}, '[]', '', '')",
    ),
    "delete an inspection": ("DELETE FROM hold_points_inspection WHERE point_id = {b_act_H5}",),
    "delete a check that is not judged yet": ("DELETE FROM hold_points_check WHERE id = {open_check}",),
    "withdraw a check": (
        "UPDATE hold_points_check SET withdrawn_at = '2026-04-13 00:00:00+00' WHERE id = {open_check}",
    ),
    "ask less of a check": ("UPDATE hold_points_check SET safety = NOT safety",),
    "look at it by chance only": (
        "UPDATE hold_points_check SET sample = '{{\"drawn\": false}}' WHERE id = {open_check}",
    ),
    "put another picture in place of the evidence": ("UPDATE hold_points_evidence SET sha256 = 'x'",),
    "forget the evidence": ("DELETE FROM hold_points_evidence",),
    "close what is to be put right by what raised it": (
        "UPDATE hold_points_nonconformity SET state = 'closed', closed_by_id = '{outcome}'",
    ),
    "forget what is to be put right": ("DELETE FROM hold_points_nonconformity",),
    "change what was told": ("UPDATE sequence_tolddate SET start = 0",),
    "forget what was told": ("DELETE FROM sequence_tolddate",),
    "rewrite the diary": ("UPDATE sequence_change SET words = 'nothing happened'",),
    "tear out of the diary": ("DELETE FROM sequence_change",),
    "rewrite the record": ("UPDATE hold_points_recordentry SET text = '[]'",),
    "tear out of the record": ("DELETE FROM hold_points_recordentry",),
    "rewrite a seal": ("UPDATE hold_points_seal SET text = '{{}}'",),
    "break a seal": ("DELETE FROM hold_points_seal",),
    "rewrite an outcome": ("UPDATE hold_points_outcome SET kind = 'met'",),
    "forget an outcome": ("DELETE FROM hold_points_outcome",),
    "rewrite a statement": ("UPDATE hold_points_statement SET licence = 'x'",),
    "forget a statement": ("DELETE FROM hold_points_statement",),
    "sign in another name": ("UPDATE hold_points_release SET name = 'Somebody'",),
    "forget a release": ("DELETE FROM hold_points_release",),
    "put a concession off": ("UPDATE hold_points_concession SET follow_up_on = '2036-01-01'",),
    "forget a concession": ("DELETE FROM hold_points_concession",),
    "rewrite a re-opening": ("UPDATE hold_points_reopening SET reason = 'nothing'",),
    "turn a re-opening to another room": ("UPDATE hold_points_reopening_places SET id = id + 1000",),
    "forget a re-opening": ("DELETE FROM hold_points_reopening",),
    "forget a re-opened room": ("DELETE FROM hold_points_reopening_places",),
}

TABLES = (
    *(f"sequence_{one}" for one in ("booking", "hold", "holdbefore", "activity", "visit", "relationship")),
    *(f"sequence_{one}" for one in ("covering", "installer", "tolddate", "change")),
    *(f"hold_points_{one}" for one in ("inspection", "check", "evidence", "nonconformity", "recordentry")),
    *(f"hold_points_{one}" for one in ("outcome", "release", "concession", "reopening", "seal")),
    "hold_points_reopening_places",
    "hold_points_statement",
    "people_crewmember",
)

ON_SQLITE: dict[str, Attack] = {
    "replace a lifted hold by an open one": (
        f"INSERT OR REPLACE INTO sequence_hold {HOLD_COLUMNS} {OPEN_HOLD}",
    ),
    "replace a hold through its point": (
        f"REPLACE INTO sequence_hold {HOLD_COLUMNS} VALUES (999, {{a_house}}, {{a_act_H5}}, 'x', '', '')",
    ),
    "firm, ignoring conflicts": (
        "UPDATE OR IGNORE sequence_booking SET state = 'firm' WHERE id = {b_linings}",
    ),
    "firm, replacing conflicts": (
        "UPDATE OR REPLACE sequence_booking SET state = 'firm' WHERE id = {b_linings}",
    ),
    "firm, failing half way": ("UPDATE OR FAIL sequence_booking SET state = 'firm'",),
    "open by an upsert": (UPSERT,),
    "firm in bytes": ("UPDATE sequence_booking SET state = CAST('firm' AS BLOB) WHERE id = {b_linings}",),
    **{f"replace rows of {one}": (f"REPLACE INTO {one} SELECT * FROM {one}",) for one in TABLES},
    "replace a line of the record": (
        "INSERT OR REPLACE INTO hold_points_recordentry (id, house_id, n, kind, text, previous, hash, at)"
        " SELECT id, house_id, n, kind, '[]', previous, hash, at FROM hold_points_recordentry",
    ),
}

ON_POSTGRESQL: dict[str, Attack] = {
    **{f"empty {one}": (f"TRUNCATE {one} CASCADE",) for one in ("sequence_house", *TABLES)},
    "play a replica": (
        "SET LOCAL session_replication_role = replica",
        "UPDATE sequence_booking SET state = 'firm' WHERE id = {b_linings}",
    ),
    "play a replica and rewrite the record": (
        "SET LOCAL session_replication_role = replica",
        "UPDATE hold_points_recordentry SET text = '[]'",
    ),
    "let a temporary table stand in": (
        "CREATE TEMP TABLE sequence_hold ON COMMIT DROP AS SELECT * FROM public.sequence_hold WHERE false",
        "UPDATE sequence_booking SET state = 'firm' WHERE id = {b_linings}",
    ),
    "let another schema stand in": (
        "CREATE SCHEMA decoy CREATE TABLE sequence_holdbefore (hold_id bigint, visit_id bigint)",
        "SET LOCAL search_path TO decoy, public",
        "UPDATE public.sequence_booking SET state = 'firm' WHERE id = {b_linings}",
    ),
    "put it off to the end": (
        "SET CONSTRAINTS ALL DEFERRED",
        "UPDATE sequence_booking SET state = 'firm' WHERE id = {b_linings}",
    ),
    "open by an upsert": (UPSERT,),
    "soften and open, then firm, in one statement each way": (
        "WITH soft AS (UPDATE sequence_hold SET lifted_at = NULL, lifted_by = NULL WHERE id = {a_hold})"
        " UPDATE sequence_booking SET on_site = true WHERE id = {a_linings}",
    ),
    "firm in a transaction with a fixed snapshot": (
        "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ",
        "UPDATE sequence_booking SET on_site = true WHERE id = {a_linings}",
    ),
    "open in a serializable transaction": (
        "SET TRANSACTION ISOLATION LEVEL SERIALIZABLE",
        "UPDATE sequence_hold SET page = 'x' WHERE id = {b_hold}",
    ),
}
