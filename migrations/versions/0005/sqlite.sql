CREATE TABLE shelf_check (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    location_id INTEGER NOT NULL,
    checked_on TEXT NOT NULL,
    inside INTEGER NOT NULL,
    by_id INTEGER,
    unknown TEXT,
    note TEXT,
    CONSTRAINT ck_shelf_check_unknown_length CHECK (length(unknown) <= 20000),
    CONSTRAINT ck_shelf_check_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_shelf_check_checked_on_day CHECK ((length(checked_on) = 10 AND checked_on LIKE '____-__-__') OR (length(checked_on) = 7 AND checked_on LIKE '____-__') OR length(checked_on) = 4),
    CONSTRAINT ck_shelf_check_inside_yes_no CHECK (inside IN (0, 1)),
    CONSTRAINT uq_shelf_check_key UNIQUE ("key"),
    CONSTRAINT fk_shelf_check_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_shelf_check_location_id FOREIGN KEY(location_id) REFERENCES location (id),
    CONSTRAINT fk_shelf_check_by_id FOREIGN KEY(by_id) REFERENCES person (id)
)
 STRICT;

CREATE TABLE reservation (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    unit_id INTEGER NOT NULL,
    person_id INTEGER NOT NULL,
    from_date TEXT NOT NULL,
    to_date TEXT NOT NULL,
    purpose TEXT,
    closed_on TEXT,
    closed_reason TEXT,
    loan_id INTEGER,
    CONSTRAINT ck_reservation_purpose_length CHECK (length(purpose) <= 20000),
    CONSTRAINT ck_reservation_closed_reason_length CHECK (length(closed_reason) <= 20000),
    CONSTRAINT ck_reservation_from_date_day CHECK ((length(from_date) = 10 AND from_date LIKE '____-__-__')),
    CONSTRAINT ck_reservation_to_date_day CHECK ((length(to_date) = 10 AND to_date LIKE '____-__-__')),
    CONSTRAINT ck_reservation_closed_on_day CHECK ((length(closed_on) = 10 AND closed_on LIKE '____-__-__') OR (length(closed_on) = 7 AND closed_on LIKE '____-__') OR length(closed_on) = 4),
    CONSTRAINT ck_reservation_to_after_from CHECK (to_date >= from_date),
    CONSTRAINT ck_reservation_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_reservation_version_range CHECK (version >= 1),
    CONSTRAINT uq_reservation_key UNIQUE ("key"),
    CONSTRAINT fk_reservation_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_reservation_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_reservation_person_id FOREIGN KEY(person_id) REFERENCES person (id),
    CONSTRAINT fk_reservation_loan_id FOREIGN KEY(loan_id) REFERENCES loan (id)
)
 STRICT;

CREATE TABLE safety_check (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    unit_id INTEGER NOT NULL,
    checked_on TEXT NOT NULL,
    result TEXT NOT NULL,
    by_id INTEGER NOT NULL,
    rule TEXT,
    good_through TEXT,
    note TEXT,
    CONSTRAINT ck_safety_check_rule_length CHECK (length(rule) <= 200),
    CONSTRAINT ck_safety_check_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_safety_check_checked_on_day CHECK ((length(checked_on) = 10 AND checked_on LIKE '____-__-__') OR (length(checked_on) = 7 AND checked_on LIKE '____-__') OR length(checked_on) = 4),
    CONSTRAINT ck_safety_check_result_words CHECK (result IN ('pass', 'fail')),
    CONSTRAINT ck_safety_check_good_through_day CHECK ((length(good_through) = 10 AND good_through LIKE '____-__-__')),
    CONSTRAINT ck_safety_check_good_through_passed CHECK (result = 'pass' OR good_through IS NULL),
    CONSTRAINT uq_safety_check_key UNIQUE ("key"),
    CONSTRAINT fk_safety_check_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_safety_check_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_safety_check_by_id FOREIGN KEY(by_id) REFERENCES person (id)
)
 STRICT;

CREATE TABLE sighting (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    unit_id INTEGER NOT NULL,
    seen_on TEXT NOT NULL,
    seen INTEGER NOT NULL,
    location_id INTEGER,
    shelf_check_id INTEGER,
    by_id INTEGER,
    note TEXT,
    CONSTRAINT ck_sighting_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_sighting_seen_on_day CHECK ((length(seen_on) = 10 AND seen_on LIKE '____-__-__') OR (length(seen_on) = 7 AND seen_on LIKE '____-__') OR length(seen_on) = 4),
    CONSTRAINT ck_sighting_seen_yes_no CHECK (seen IN (0, 1)),
    CONSTRAINT uq_sighting_key UNIQUE ("key"),
    CONSTRAINT fk_sighting_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_sighting_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_sighting_location_id FOREIGN KEY(location_id) REFERENCES location (id),
    CONSTRAINT fk_sighting_shelf_check_id FOREIGN KEY(shelf_check_id) REFERENCES shelf_check (id),
    CONSTRAINT fk_sighting_by_id FOREIGN KEY(by_id) REFERENCES person (id)
)
 STRICT;

CREATE TABLE unit_exit (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    unit_id INTEGER NOT NULL,
    left_on TEXT NOT NULL,
    how TEXT NOT NULL,
    reason TEXT NOT NULL,
    to_id INTEGER,
    authority_id INTEGER,
    price_minor INTEGER,
    currency TEXT,
    receipt_on TEXT,
    note TEXT,
    CONSTRAINT ck_unit_exit_reason_length CHECK (length(reason) <= 20000),
    CONSTRAINT ck_unit_exit_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_unit_exit_left_on_day CHECK ((length(left_on) = 10 AND left_on LIKE '____-__-__') OR (length(left_on) = 7 AND left_on LIKE '____-__') OR length(left_on) = 4),
    CONSTRAINT ck_unit_exit_how_words CHECK (how IN ('sold', 'given', 'exchanged', 'given back', 'transferred', 'scrapped', 'lost')),
    CONSTRAINT ck_unit_exit_price_minor_range CHECK (price_minor >= 0),
    CONSTRAINT ck_unit_exit_currency_code CHECK (length(currency) = 3),
    CONSTRAINT ck_unit_exit_receipt_on_day CHECK ((length(receipt_on) = 10 AND receipt_on LIKE '____-__-__') OR (length(receipt_on) = 7 AND receipt_on LIKE '____-__') OR length(receipt_on) = 4),
    CONSTRAINT ck_unit_exit_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_unit_exit_version_range CHECK (version >= 1),
    CONSTRAINT uq_unit_exit_key UNIQUE ("key"),
    CONSTRAINT fk_unit_exit_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_unit_exit_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_unit_exit_to_id FOREIGN KEY(to_id) REFERENCES person (id),
    CONSTRAINT fk_unit_exit_authority_id FOREIGN KEY(authority_id) REFERENCES person (id)
)
 STRICT;

CREATE TABLE condition_check (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    unit_id INTEGER NOT NULL,
    checked_on TEXT NOT NULL,
    occasion TEXT NOT NULL,
    condition TEXT NOT NULL,
    grade TEXT,
    by_id INTEGER,
    loan_item_id INTEGER,
    CONSTRAINT ck_condition_check_condition_length CHECK (length(condition) <= 20000),
    CONSTRAINT ck_condition_check_checked_on_day CHECK ((length(checked_on) = 10 AND checked_on LIKE '____-__-__') OR (length(checked_on) = 7 AND checked_on LIKE '____-__') OR length(checked_on) = 4),
    CONSTRAINT ck_condition_check_occasion_words CHECK (occasion IN ('loan out', 'loan back', 'entry', 'exit', 'move', 'inventory', 'damage', 'other')),
    CONSTRAINT ck_condition_check_grade_words CHECK (grade IN ('pass', 'marginal', 'fail')),
    CONSTRAINT uq_condition_check_key UNIQUE ("key"),
    CONSTRAINT fk_condition_check_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_condition_check_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_condition_check_by_id FOREIGN KEY(by_id) REFERENCES person (id),
    CONSTRAINT fk_condition_check_loan_item_id FOREIGN KEY(loan_item_id) REFERENCES loan_item (id)
)
 STRICT;

CREATE TABLE damage (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    unit_id INTEGER NOT NULL,
    kind TEXT NOT NULL,
    found_on TEXT NOT NULL,
    what TEXT NOT NULL,
    circumstances TEXT,
    reported_on TEXT,
    reported_by_id INTEGER,
    by_id INTEGER,
    loan_item_id INTEGER,
    check_id INTEGER,
    estimate_minor INTEGER,
    currency TEXT,
    owner_told_on TEXT,
    insurer_told_on TEXT,
    policy_id INTEGER,
    claim TEXT,
    actions TEXT,
    settled_on TEXT,
    settled_minor INTEGER,
    closed_on TEXT,
    closed_how TEXT,
    CONSTRAINT ck_damage_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_damage_claim_length CHECK (length(claim) <= 200),
    CONSTRAINT ck_damage_what_length CHECK (length(what) <= 20000),
    CONSTRAINT ck_damage_circumstances_length CHECK (length(circumstances) <= 20000),
    CONSTRAINT ck_damage_actions_length CHECK (length(actions) <= 20000),
    CONSTRAINT ck_damage_closed_how_length CHECK (length(closed_how) <= 20000),
    CONSTRAINT ck_damage_kind_words CHECK (kind IN ('damage', 'loss')),
    CONSTRAINT ck_damage_found_on_day CHECK ((length(found_on) = 10 AND found_on LIKE '____-__-__') OR (length(found_on) = 7 AND found_on LIKE '____-__') OR length(found_on) = 4),
    CONSTRAINT ck_damage_reported_on_day CHECK ((length(reported_on) = 10 AND reported_on LIKE '____-__-__') OR (length(reported_on) = 7 AND reported_on LIKE '____-__') OR length(reported_on) = 4),
    CONSTRAINT ck_damage_owner_told_on_day CHECK ((length(owner_told_on) = 10 AND owner_told_on LIKE '____-__-__') OR (length(owner_told_on) = 7 AND owner_told_on LIKE '____-__') OR length(owner_told_on) = 4),
    CONSTRAINT ck_damage_insurer_told_on_day CHECK ((length(insurer_told_on) = 10 AND insurer_told_on LIKE '____-__-__') OR (length(insurer_told_on) = 7 AND insurer_told_on LIKE '____-__') OR length(insurer_told_on) = 4),
    CONSTRAINT ck_damage_settled_on_day CHECK ((length(settled_on) = 10 AND settled_on LIKE '____-__-__') OR (length(settled_on) = 7 AND settled_on LIKE '____-__') OR length(settled_on) = 4),
    CONSTRAINT ck_damage_closed_on_day CHECK ((length(closed_on) = 10 AND closed_on LIKE '____-__-__') OR (length(closed_on) = 7 AND closed_on LIKE '____-__') OR length(closed_on) = 4),
    CONSTRAINT ck_damage_estimate_minor_range CHECK (estimate_minor >= 0),
    CONSTRAINT ck_damage_settled_minor_range CHECK (settled_minor >= 0),
    CONSTRAINT ck_damage_currency_code CHECK (length(currency) = 3),
    CONSTRAINT ck_damage_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_damage_version_range CHECK (version >= 1),
    CONSTRAINT uq_damage_key UNIQUE ("key"),
    CONSTRAINT fk_damage_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_damage_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_damage_reported_by_id FOREIGN KEY(reported_by_id) REFERENCES person (id),
    CONSTRAINT fk_damage_by_id FOREIGN KEY(by_id) REFERENCES person (id),
    CONSTRAINT fk_damage_loan_item_id FOREIGN KEY(loan_item_id) REFERENCES loan_item (id),
    CONSTRAINT fk_damage_check_id FOREIGN KEY(check_id) REFERENCES condition_check (id),
    CONSTRAINT fk_damage_policy_id FOREIGN KEY(policy_id) REFERENCES policy (id)
)
 STRICT;

ALTER TABLE book ADD COLUMN backup_days INTEGER CONSTRAINT ck_book_backup_days_range CHECK (backup_days BETWEEN 0 AND 3650);

ALTER TABLE book ADD COLUMN safety_months INTEGER CONSTRAINT ck_book_safety_months_range CHECK (safety_months BETWEEN 1 AND 1200);

ALTER TABLE person ADD COLUMN call_rank INTEGER CONSTRAINT ck_person_call_rank_range CHECK (call_rank >= 1);

ALTER TABLE loan ADD COLUMN cover TEXT CONSTRAINT ck_loan_cover_length CHECK (length(cover) <= 20000);

ALTER TABLE loan ADD COLUMN agreement TEXT CONSTRAINT ck_loan_agreement_length CHECK (length(agreement) <= 200);

ALTER TABLE loan ADD COLUMN issued_by_id INTEGER CONSTRAINT fk_loan_issued_by_id REFERENCES person (id);

ALTER TABLE loan ADD COLUMN deposit_back_on TEXT CONSTRAINT ck_loan_deposit_back_on_day CHECK ((length(deposit_back_on) = 10 AND deposit_back_on LIKE '____-__-__') OR (length(deposit_back_on) = 7 AND deposit_back_on LIKE '____-__') OR length(deposit_back_on) = 4);

ALTER TABLE loan ADD COLUMN deposit_back_minor INTEGER CONSTRAINT ck_loan_deposit_back_minor_range CHECK (deposit_back_minor >= 0);

ALTER TABLE unit ADD COLUMN acquired_how TEXT CONSTRAINT ck_unit_acquired_how_length CHECK (length(acquired_how) <= 200);

ALTER TABLE unit ADD COLUMN title_evidence TEXT CONSTRAINT ck_unit_title_evidence_length CHECK (length(title_evidence) <= 20000);

ALTER TABLE unit ADD COLUMN rescue_rank INTEGER CONSTRAINT ck_unit_rescue_rank_range CHECK (rescue_rank >= 1);

ALTER TABLE unit ADD COLUMN rescue_note TEXT CONSTRAINT ck_unit_rescue_note_length CHECK (length(rescue_note) <= 20000);

ALTER TABLE arrival ADD COLUMN entry_number TEXT CONSTRAINT ck_arrival_entry_number_length CHECK (length(entry_number) <= 200);

ALTER TABLE arrival ADD COLUMN reason TEXT CONSTRAINT ck_arrival_reason_length CHECK (length(reason) <= 20000);

ALTER TABLE arrival ADD COLUMN return_by TEXT CONSTRAINT ck_arrival_return_by_day CHECK ((length(return_by) = 10 AND return_by LIKE '____-__-__') OR (length(return_by) = 7 AND return_by LIKE '____-__') OR length(return_by) = 4);

ALTER TABLE arrival ADD COLUMN receipt_on TEXT CONSTRAINT ck_arrival_receipt_on_day CHECK ((length(receipt_on) = 10 AND receipt_on LIKE '____-__-__') OR (length(receipt_on) = 7 AND receipt_on LIKE '____-__') OR length(receipt_on) = 4);

ALTER TABLE loan_item ADD COLUMN along TEXT CONSTRAINT ck_loan_item_along_length CHECK (length(along) <= 20000);

ALTER TABLE loan_item ADD COLUMN along_missing TEXT CONSTRAINT ck_loan_item_along_missing_length CHECK (length(along_missing) <= 20000);

ALTER TABLE loan_item ADD COLUMN taken_by_id INTEGER CONSTRAINT fk_loan_item_taken_by_id REFERENCES person (id);

ALTER TABLE unit_entry ADD COLUMN by_id INTEGER CONSTRAINT fk_unit_entry_by_id REFERENCES person (id);

ALTER TABLE reading ADD COLUMN check_id INTEGER CONSTRAINT fk_reading_check_id REFERENCES condition_check (id);

ALTER TABLE attachment ADD COLUMN check_id INTEGER CONSTRAINT fk_attachment_check_id REFERENCES condition_check (id);

ALTER TABLE attachment ADD COLUMN damage_id INTEGER CONSTRAINT fk_attachment_damage_id REFERENCES damage (id);

CREATE INDEX ix_shelf_check_location_id ON shelf_check (location_id);

CREATE INDEX ix_reservation_person_id ON reservation (person_id);

CREATE INDEX ix_reservation_unit_id ON reservation (unit_id);

CREATE INDEX ix_safety_check_unit_id ON safety_check (unit_id, checked_on);

CREATE INDEX ix_sighting_shelf_check_id ON sighting (shelf_check_id);

CREATE INDEX ix_sighting_unit_id ON sighting (unit_id, seen_on);

CREATE INDEX ix_unit_exit_unit_id ON unit_exit (unit_id);

CREATE INDEX ix_condition_check_loan_item_id ON condition_check (loan_item_id);

CREATE INDEX ix_condition_check_unit_id ON condition_check (unit_id, checked_on);

CREATE INDEX ix_damage_unit_id ON damage (unit_id);

CREATE UNIQUE INDEX ux_damage_name_folded ON damage (name_folded) WHERE void = 0;

CREATE INDEX ix_reading_check_id ON reading (check_id) WHERE check_id IS NOT NULL;

CREATE TRIGGER keep_condition_check_update BEFORE UPDATE ON condition_check BEGIN SELECT RAISE(ABORT, 'append-only: a row of condition_check stays as it was written'); END;

CREATE TRIGGER keep_condition_check_delete BEFORE DELETE ON condition_check BEGIN SELECT RAISE(ABORT, 'append-only: a row of condition_check stays as it was written'); END;

CREATE TRIGGER keep_safety_check_update BEFORE UPDATE ON safety_check BEGIN SELECT RAISE(ABORT, 'append-only: a row of safety_check stays as it was written'); END;

CREATE TRIGGER keep_safety_check_delete BEFORE DELETE ON safety_check BEGIN SELECT RAISE(ABORT, 'append-only: a row of safety_check stays as it was written'); END;

CREATE TRIGGER keep_shelf_check_update BEFORE UPDATE ON shelf_check BEGIN SELECT RAISE(ABORT, 'append-only: a row of shelf_check stays as it was written'); END;

CREATE TRIGGER keep_shelf_check_delete BEFORE DELETE ON shelf_check BEGIN SELECT RAISE(ABORT, 'append-only: a row of shelf_check stays as it was written'); END;

CREATE TRIGGER keep_sighting_update BEFORE UPDATE ON sighting BEGIN SELECT RAISE(ABORT, 'append-only: a row of sighting stays as it was written'); END;

CREATE TRIGGER keep_sighting_delete BEFORE DELETE ON sighting BEGIN SELECT RAISE(ABORT, 'append-only: a row of sighting stays as it was written'); END;
