ALTER TABLE unit ADD COLUMN drive_number TEXT CONSTRAINT ck_unit_drive_number_length CHECK (length(drive_number) <= 200);

ALTER TABLE unit ADD COLUMN box TEXT CONSTRAINT ck_unit_box_length CHECK (length(box) <= 20000);

ALTER TABLE instrument ADD COLUMN check_every_months INTEGER CONSTRAINT ck_instrument_check_every_months_range CHECK (check_every_months >= 1);

ALTER TABLE instrument ADD COLUMN retired_on TEXT CONSTRAINT ck_instrument_retired_on_day CHECK ((length(retired_on) = 10 AND retired_on LIKE '____-__-__') OR (length(retired_on) = 7 AND retired_on LIKE '____-__') OR length(retired_on) = 4);

ALTER TABLE instrument ADD COLUMN retired_reason TEXT CONSTRAINT ck_instrument_retired_reason_length CHECK (length(retired_reason) <= 20000);

ALTER TABLE procedure ADD COLUMN lubricates TEXT CONSTRAINT ck_procedure_lubricates_length CHECK (length(lubricates) <= 200);

ALTER TABLE service ADD COLUMN guide TEXT CONSTRAINT ck_service_guide_length CHECK (length(guide) <= 200);

ALTER TABLE fault ADD COLUMN loan_id INTEGER CONSTRAINT fk_fault_loan_id REFERENCES loan (id);

CREATE TABLE arrival (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    unit_id INTEGER NOT NULL,
    arrived_on TEXT NOT NULL,
    from_id INTEGER,
    contents TEXT,
    damage TEXT,
    mains_setting TEXT,
    fuse TEXT,
    cord TEXT,
    note TEXT,
    CONSTRAINT ck_arrival_mains_setting_length CHECK (length(mains_setting) <= 200),
    CONSTRAINT ck_arrival_fuse_length CHECK (length(fuse) <= 200),
    CONSTRAINT ck_arrival_cord_length CHECK (length(cord) <= 200),
    CONSTRAINT ck_arrival_contents_length CHECK (length(contents) <= 20000),
    CONSTRAINT ck_arrival_damage_length CHECK (length(damage) <= 20000),
    CONSTRAINT ck_arrival_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_arrival_arrived_on_day CHECK ((length(arrived_on) = 10 AND arrived_on LIKE '____-__-__') OR (length(arrived_on) = 7 AND arrived_on LIKE '____-__') OR length(arrived_on) = 4),
    CONSTRAINT ck_arrival_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_arrival_version_range CHECK (version >= 1),
    CONSTRAINT uq_arrival_key UNIQUE ("key"),
    CONSTRAINT fk_arrival_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_arrival_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_arrival_from_id FOREIGN KEY(from_id) REFERENCES person (id)
)
 STRICT;

CREATE INDEX ix_arrival_unit_id ON arrival (unit_id);

CREATE TABLE adjustment (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    unit_id INTEGER NOT NULL,
    service_id INTEGER,
    done_on TEXT NOT NULL,
    screw TEXT NOT NULL,
    direction TEXT NOT NULL,
    turns REAL NOT NULL,
    entered TEXT NOT NULL,
    measurement_id INTEGER,
    note TEXT,
    CONSTRAINT ck_adjustment_screw_length CHECK (length(screw) <= 200),
    CONSTRAINT ck_adjustment_entered_length CHECK (length(entered) <= 200),
    CONSTRAINT ck_adjustment_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_adjustment_done_on_day CHECK ((length(done_on) = 10 AND done_on LIKE '____-__-__') OR (length(done_on) = 7 AND done_on LIKE '____-__') OR length(done_on) = 4),
    CONSTRAINT ck_adjustment_direction_words CHECK (direction IN ('clockwise', 'counter-clockwise')),
    CONSTRAINT ck_adjustment_turns_range CHECK (turns > 0),
    CONSTRAINT uq_adjustment_key UNIQUE ("key"),
    CONSTRAINT fk_adjustment_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_adjustment_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_adjustment_service_id FOREIGN KEY(service_id) REFERENCES service (id),
    CONSTRAINT fk_adjustment_measurement_id FOREIGN KEY(measurement_id) REFERENCES measurement (id)
)
 STRICT;

CREATE INDEX ix_adjustment_unit_id ON adjustment (unit_id);

CREATE TABLE wanted_part (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    unit_id INTEGER NOT NULL,
    part TEXT NOT NULL,
    supply_id INTEGER,
    pieces INTEGER DEFAULT '1' NOT NULL,
    wanted_on TEXT NOT NULL,
    got_on TEXT,
    dropped_on TEXT,
    reason TEXT,
    note TEXT,
    CONSTRAINT ck_wanted_part_part_length CHECK (length(part) <= 200),
    CONSTRAINT ck_wanted_part_reason_length CHECK (length(reason) <= 20000),
    CONSTRAINT ck_wanted_part_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_wanted_part_pieces_range CHECK (pieces >= 1),
    CONSTRAINT ck_wanted_part_wanted_on_day CHECK ((length(wanted_on) = 10 AND wanted_on LIKE '____-__-__') OR (length(wanted_on) = 7 AND wanted_on LIKE '____-__') OR length(wanted_on) = 4),
    CONSTRAINT ck_wanted_part_got_on_day CHECK ((length(got_on) = 10 AND got_on LIKE '____-__-__') OR (length(got_on) = 7 AND got_on LIKE '____-__') OR length(got_on) = 4),
    CONSTRAINT ck_wanted_part_dropped_on_day CHECK ((length(dropped_on) = 10 AND dropped_on LIKE '____-__-__') OR (length(dropped_on) = 7 AND dropped_on LIKE '____-__') OR length(dropped_on) = 4),
    CONSTRAINT ck_wanted_part_one_end CHECK (got_on IS NULL OR dropped_on IS NULL),
    CONSTRAINT ck_wanted_part_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_wanted_part_version_range CHECK (version >= 1),
    CONSTRAINT uq_wanted_part_key UNIQUE ("key"),
    CONSTRAINT fk_wanted_part_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_wanted_part_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_wanted_part_supply_id FOREIGN KEY(supply_id) REFERENCES supply (id)
)
 STRICT;

CREATE INDEX ix_wanted_part_supply_id ON wanted_part (supply_id);

CREATE INDEX ix_wanted_part_unit_id ON wanted_part (unit_id);

CREATE TABLE medium (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    role TEXT NOT NULL,
    size TEXT,
    unit_id INTEGER,
    condition TEXT,
    from_date TEXT,
    most_uses INTEGER,
    check_every_months INTEGER,
    retired_on TEXT,
    retired_reason TEXT,
    note TEXT,
    CONSTRAINT ck_medium_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_medium_size_length CHECK (length(size) <= 200),
    CONSTRAINT ck_medium_condition_length CHECK (length(condition) <= 200),
    CONSTRAINT ck_medium_retired_reason_length CHECK (length(retired_reason) <= 20000),
    CONSTRAINT ck_medium_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_medium_role_words CHECK (role IN ('reference', 'scratch', 'cleaning', 'known good')),
    CONSTRAINT ck_medium_most_uses_range CHECK (most_uses >= 1),
    CONSTRAINT ck_medium_check_every_months_range CHECK (check_every_months >= 1),
    CONSTRAINT ck_medium_from_date_day CHECK ((length(from_date) = 10 AND from_date LIKE '____-__-__') OR (length(from_date) = 7 AND from_date LIKE '____-__') OR length(from_date) = 4),
    CONSTRAINT ck_medium_retired_on_day CHECK ((length(retired_on) = 10 AND retired_on LIKE '____-__-__') OR (length(retired_on) = 7 AND retired_on LIKE '____-__') OR length(retired_on) = 4),
    CONSTRAINT ck_medium_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_medium_version_range CHECK (version >= 1),
    CONSTRAINT uq_medium_key UNIQUE ("key"),
    CONSTRAINT fk_medium_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_medium_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_medium_name_folded ON medium (name_folded) WHERE void = 0;

CREATE TABLE lubrication (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    unit_id INTEGER NOT NULL,
    service_id INTEGER,
    put_on TEXT NOT NULL,
    point TEXT NOT NULL,
    supply_id INTEGER NOT NULL,
    lot_id INTEGER,
    cleaned_first INTEGER NOT NULL,
    note TEXT,
    CONSTRAINT ck_lubrication_point_length CHECK (length(point) <= 200),
    CONSTRAINT ck_lubrication_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_lubrication_put_on_day CHECK ((length(put_on) = 10 AND put_on LIKE '____-__-__') OR (length(put_on) = 7 AND put_on LIKE '____-__') OR length(put_on) = 4),
    CONSTRAINT ck_lubrication_cleaned_first_yes_no CHECK (cleaned_first IN (0, 1)),
    CONSTRAINT uq_lubrication_key UNIQUE ("key"),
    CONSTRAINT fk_lubrication_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_lubrication_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_lubrication_service_id FOREIGN KEY(service_id) REFERENCES service (id),
    CONSTRAINT fk_lubrication_supply_id FOREIGN KEY(supply_id) REFERENCES supply (id),
    CONSTRAINT fk_lubrication_lot_id FOREIGN KEY(lot_id) REFERENCES lot (id)
)
 STRICT;

CREATE INDEX ix_lubrication_unit_id ON lubrication (unit_id);

CREATE TABLE medium_use (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    medium_id INTEGER NOT NULL,
    used_on TEXT NOT NULL,
    times INTEGER NOT NULL,
    unit_id INTEGER,
    service_id INTEGER,
    note TEXT,
    CONSTRAINT ck_medium_use_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_medium_use_times_range CHECK (times >= 1),
    CONSTRAINT ck_medium_use_used_on_day CHECK ((length(used_on) = 10 AND used_on LIKE '____-__-__') OR (length(used_on) = 7 AND used_on LIKE '____-__') OR length(used_on) = 4),
    CONSTRAINT uq_medium_use_key UNIQUE ("key"),
    CONSTRAINT fk_medium_use_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_medium_use_medium_id FOREIGN KEY(medium_id) REFERENCES medium (id),
    CONSTRAINT fk_medium_use_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_medium_use_service_id FOREIGN KEY(service_id) REFERENCES service (id)
)
 STRICT;

CREATE INDEX ix_medium_use_medium_id ON medium_use (medium_id);

CREATE TABLE inspection (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    instrument_id INTEGER,
    medium_id INTEGER,
    checked_on TEXT NOT NULL,
    result TEXT NOT NULL,
    by_id INTEGER,
    note TEXT,
    CONSTRAINT ck_inspection_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_inspection_result_words CHECK (result IN ('pass', 'marginal', 'fail')),
    CONSTRAINT ck_inspection_checked_on_day CHECK ((length(checked_on) = 10 AND checked_on LIKE '____-__-__') OR (length(checked_on) = 7 AND checked_on LIKE '____-__') OR length(checked_on) = 4),
    CONSTRAINT ck_inspection_one_thing CHECK ((instrument_id IS NULL) <> (medium_id IS NULL)),
    CONSTRAINT uq_inspection_key UNIQUE ("key"),
    CONSTRAINT fk_inspection_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_inspection_instrument_id FOREIGN KEY(instrument_id) REFERENCES instrument (id),
    CONSTRAINT fk_inspection_medium_id FOREIGN KEY(medium_id) REFERENCES medium (id),
    CONSTRAINT fk_inspection_by_id FOREIGN KEY(by_id) REFERENCES person (id)
)
 STRICT;

CREATE INDEX ix_inspection_medium_id ON inspection (medium_id);

CREATE INDEX ix_inspection_instrument_id ON inspection (instrument_id);

CREATE TRIGGER keep_adjustment_update BEFORE UPDATE ON adjustment BEGIN SELECT RAISE(ABORT, 'append-only: a row of adjustment stays as it was written'); END;

CREATE TRIGGER keep_adjustment_delete BEFORE DELETE ON adjustment BEGIN SELECT RAISE(ABORT, 'append-only: a row of adjustment stays as it was written'); END;

CREATE TRIGGER keep_inspection_update BEFORE UPDATE ON inspection BEGIN SELECT RAISE(ABORT, 'append-only: a row of inspection stays as it was written'); END;

CREATE TRIGGER keep_inspection_delete BEFORE DELETE ON inspection BEGIN SELECT RAISE(ABORT, 'append-only: a row of inspection stays as it was written'); END;

CREATE TRIGGER keep_lubrication_update BEFORE UPDATE ON lubrication BEGIN SELECT RAISE(ABORT, 'append-only: a row of lubrication stays as it was written'); END;

CREATE TRIGGER keep_lubrication_delete BEFORE DELETE ON lubrication BEGIN SELECT RAISE(ABORT, 'append-only: a row of lubrication stays as it was written'); END;

CREATE TRIGGER keep_medium_use_update BEFORE UPDATE ON medium_use BEGIN SELECT RAISE(ABORT, 'append-only: a row of medium_use stays as it was written'); END;

CREATE TRIGGER keep_medium_use_delete BEFORE DELETE ON medium_use BEGIN SELECT RAISE(ABORT, 'append-only: a row of medium_use stays as it was written'); END;
