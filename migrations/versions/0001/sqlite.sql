CREATE TABLE act (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    at TEXT NOT NULL,
    today TEXT NOT NULL,
    who_id INTEGER,
    command TEXT NOT NULL,
    reason TEXT,
    undoes_id INTEGER,
    CONSTRAINT ck_act_command_length CHECK (length(command) <= 200),
    CONSTRAINT ck_act_reason_length CHECK (length(reason) <= 20000),
    CONSTRAINT uq_act_key UNIQUE ("key"),
    CONSTRAINT fk_act_who_id FOREIGN KEY(who_id) REFERENCES person (id),
    CONSTRAINT fk_act_undoes_id FOREIGN KEY(undoes_id) REFERENCES act (id)
)
 STRICT;

CREATE INDEX ix_act_undoes_id ON act (undoes_id);

CREATE TABLE counter (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    subject TEXT NOT NULL,
    row_id INTEGER NOT NULL,
    value INTEGER NOT NULL,
    CONSTRAINT uq_counter_key UNIQUE ("key")
)
 STRICT;

CREATE UNIQUE INDEX ux_counter_subject ON counter (subject, row_id);

CREATE TABLE model (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    maker TEXT NOT NULL,
    maker_folded TEXT NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    kind TEXT NOT NULL,
    drive_type TEXT,
    nominal_speeds TEXT,
    speed_adjustable INTEGER,
    media TEXT,
    supply_inside INTEGER,
    replacement_minor INTEGER,
    currency TEXT,
    note TEXT,
    seed_key TEXT,
    seed_revision INTEGER,
    CONSTRAINT ck_model_maker_length CHECK (length(maker) <= 200),
    CONSTRAINT ck_model_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_model_kind_length CHECK (length(kind) <= 200),
    CONSTRAINT ck_model_nominal_speeds_length CHECK (length(nominal_speeds) <= 200),
    CONSTRAINT ck_model_media_length CHECK (length(media) <= 200),
    CONSTRAINT ck_model_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_model_drive_type_words CHECK (drive_type IN ('belt', 'direct adjustable', 'direct crystal', 'AC motor', 'unknown')),
    CONSTRAINT ck_model_speed_adjustable_yes_no CHECK (speed_adjustable IN (0, 1)),
    CONSTRAINT ck_model_supply_inside_yes_no CHECK (supply_inside IN (0, 1)),
    CONSTRAINT ck_model_replacement_minor_range CHECK (replacement_minor >= 0),
    CONSTRAINT ck_model_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_model_version_range CHECK (version >= 1),
    CONSTRAINT uq_model_key UNIQUE ("key"),
    CONSTRAINT fk_model_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_model_maker_folded_name_folded ON model (maker_folded, name_folded) WHERE void = 0;

CREATE TABLE location (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    inside_id INTEGER,
    note TEXT,
    CONSTRAINT ck_location_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_location_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_location_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_location_version_range CHECK (version >= 1),
    CONSTRAINT uq_location_key UNIQUE ("key"),
    CONSTRAINT fk_location_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_location_inside_id FOREIGN KEY(inside_id) REFERENCES location (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_location_name_folded ON location (name_folded) WHERE void = 0;

CREATE TABLE attachment_content (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    sha256 TEXT NOT NULL,
    size INTEGER NOT NULL,
    content BLOB NOT NULL,
    CONSTRAINT ck_attachment_content_sha256_length CHECK (length(sha256) = 64),
    CONSTRAINT uq_attachment_content_key UNIQUE ("key"),
    CONSTRAINT fk_attachment_content_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE TABLE book (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT,
    time_zone TEXT NOT NULL,
    currency TEXT NOT NULL,
    date_form TEXT NOT NULL,
    mains_hertz INTEGER NOT NULL,
    mains_volts INTEGER NOT NULL,
    made_by TEXT NOT NULL,
    reference_revision TEXT,
    CONSTRAINT ck_book_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_book_time_zone_length CHECK (length(time_zone) <= 200),
    CONSTRAINT ck_book_made_by_length CHECK (length(made_by) <= 200),
    CONSTRAINT ck_book_date_form_words CHECK (date_form IN ('iso', 'dmy', 'mdy')),
    CONSTRAINT ck_book_made_by_words CHECK (made_by IN ('start', 'demo')),
    CONSTRAINT ck_book_currency_code CHECK (length(currency) = 3),
    CONSTRAINT ck_book_mains_hertz_range CHECK (mains_hertz IN (50, 60)),
    CONSTRAINT ck_book_mains_volts_range CHECK (mains_volts BETWEEN 90 AND 260),
    CONSTRAINT ck_book_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_book_version_range CHECK (version >= 1),
    CONSTRAINT uq_book_key UNIQUE ("key"),
    CONSTRAINT fk_book_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE TABLE change (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    kind TEXT NOT NULL,
    table_name TEXT NOT NULL,
    row_id INTEGER NOT NULL,
    version INTEGER,
    "before" TEXT,
    "after" TEXT,
    rows INTEGER,
    digest TEXT,
    CONSTRAINT ck_change_kind_words CHECK (kind IN ('insert', 'update', 'void', 'restore', 'append')),
    CONSTRAINT ck_change_append_digest CHECK ((kind = 'append') = (digest IS NOT NULL)),
    CONSTRAINT ck_change_append_rows CHECK ((kind = 'append') = (rows IS NOT NULL)),
    CONSTRAINT uq_change_key UNIQUE ("key"),
    CONSTRAINT fk_change_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE INDEX ix_change_act_id ON change (act_id);

CREATE INDEX ix_change_row_id ON change (row_id, table_name);

CREATE TABLE seal (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    summary TEXT,
    previous_hash TEXT NOT NULL,
    hash TEXT NOT NULL,
    CONSTRAINT ck_seal_summary_length CHECK (length(summary) <= 20000),
    CONSTRAINT ck_seal_hash_length CHECK (length(hash) = 64),
    CONSTRAINT uq_seal_key UNIQUE ("key"),
    CONSTRAINT fk_seal_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_seal_act_id ON seal (act_id);

CREATE TABLE undone (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    by_id INTEGER NOT NULL,
    CONSTRAINT uq_undone_key UNIQUE ("key"),
    CONSTRAINT fk_undone_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_undone_by_id FOREIGN KEY(by_id) REFERENCES act (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_undone_act_id ON undone (act_id);

CREATE TABLE doubt (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    table_name TEXT NOT NULL,
    row_id INTEGER NOT NULL,
    field TEXT,
    value TEXT,
    rule TEXT NOT NULL,
    CONSTRAINT ck_doubt_value_length CHECK (length(value) <= 20000),
    CONSTRAINT ck_doubt_rule_length CHECK (length(rule) <= 20000),
    CONSTRAINT uq_doubt_key UNIQUE ("key"),
    CONSTRAINT fk_doubt_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE INDEX ix_doubt_row_id ON doubt (row_id, table_name);

CREATE TABLE procedure (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    revision INTEGER DEFAULT '1' NOT NULL,
    applies_to TEXT,
    every_months INTEGER,
    every_hours REAL,
    triggers TEXT,
    minutes INTEGER,
    resets TEXT,
    retests TEXT,
    cautions TEXT,
    steps TEXT,
    source TEXT,
    seed_key TEXT,
    seed_revision INTEGER,
    CONSTRAINT ck_procedure_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_procedure_applies_to_length CHECK (length(applies_to) <= 20000),
    CONSTRAINT ck_procedure_triggers_length CHECK (length(triggers) <= 20000),
    CONSTRAINT ck_procedure_resets_length CHECK (length(resets) <= 20000),
    CONSTRAINT ck_procedure_retests_length CHECK (length(retests) <= 20000),
    CONSTRAINT ck_procedure_cautions_length CHECK (length(cautions) <= 20000),
    CONSTRAINT ck_procedure_steps_length CHECK (length(steps) <= 20000),
    CONSTRAINT ck_procedure_source_length CHECK (length(source) <= 20000),
    CONSTRAINT ck_procedure_every_months_range CHECK (every_months >= 1),
    CONSTRAINT ck_procedure_every_hours_range CHECK (every_hours > 0),
    CONSTRAINT ck_procedure_minutes_range CHECK (minutes >= 0),
    CONSTRAINT ck_procedure_revision_range CHECK (revision >= 1),
    CONSTRAINT ck_procedure_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_procedure_version_range CHECK (version >= 1),
    CONSTRAINT uq_procedure_key UNIQUE ("key"),
    CONSTRAINT fk_procedure_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_procedure_name_folded ON procedure (name_folded) WHERE void = 0;

CREATE TABLE measurement (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    measured_in TEXT NOT NULL,
    ratio INTEGER,
    points TEXT,
    source TEXT,
    note TEXT,
    seed_key TEXT,
    seed_revision INTEGER,
    CONSTRAINT ck_measurement_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_measurement_measured_in_length CHECK (length(measured_in) <= 200),
    CONSTRAINT ck_measurement_points_length CHECK (length(points) <= 20000),
    CONSTRAINT ck_measurement_source_length CHECK (length(source) <= 20000),
    CONSTRAINT ck_measurement_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_measurement_ratio_yes_no CHECK (ratio IN (0, 1)),
    CONSTRAINT ck_measurement_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_measurement_version_range CHECK (version >= 1),
    CONSTRAINT uq_measurement_key UNIQUE ("key"),
    CONSTRAINT fk_measurement_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_measurement_name_folded ON measurement (name_folded) WHERE void = 0;

CREATE TABLE person (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    role TEXT NOT NULL,
    email TEXT,
    phone TEXT,
    address TEXT,
    note TEXT,
    salt TEXT NOT NULL,
    former_of_id INTEGER,
    CONSTRAINT ck_person_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_person_email_length CHECK (length(email) <= 200),
    CONSTRAINT ck_person_phone_length CHECK (length(phone) <= 200),
    CONSTRAINT ck_person_address_length CHECK (length(address) <= 20000),
    CONSTRAINT ck_person_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_person_role_words CHECK (role IN ('keeper', 'issuer', 'member', 'owner', 'outside')),
    CONSTRAINT ck_person_former_is_void CHECK (former_of_id IS NULL OR void = 1),
    CONSTRAINT ck_person_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_person_version_range CHECK (version >= 1),
    CONSTRAINT uq_person_key UNIQUE ("key"),
    CONSTRAINT fk_person_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_person_former_of_id FOREIGN KEY(former_of_id) REFERENCES person (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_person_name_folded ON person (name_folded) WHERE void = 0;

CREATE INDEX ix_person_former_of_id ON person (former_of_id);

CREATE TABLE policy (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    from_date TEXT NOT NULL,
    to_date TEXT,
    insurer TEXT,
    insured_minor INTEGER,
    currency TEXT,
    note TEXT,
    CONSTRAINT ck_policy_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_policy_insurer_length CHECK (length(insurer) <= 200),
    CONSTRAINT ck_policy_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_policy_from_date_day CHECK ((length(from_date) = 10 AND from_date LIKE '____-__-__') OR (length(from_date) = 7 AND from_date LIKE '____-__') OR length(from_date) = 4),
    CONSTRAINT ck_policy_to_date_day CHECK ((length(to_date) = 10 AND to_date LIKE '____-__-__') OR (length(to_date) = 7 AND to_date LIKE '____-__') OR length(to_date) = 4),
    CONSTRAINT ck_policy_insured_minor_range CHECK (insured_minor >= 0),
    CONSTRAINT ck_policy_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_policy_version_range CHECK (version >= 1),
    CONSTRAINT uq_policy_key UNIQUE ("key"),
    CONSTRAINT fk_policy_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_policy_name_folded ON policy (name_folded) WHERE void = 0;

CREATE TABLE supply (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    kind TEXT NOT NULL,
    measured_in TEXT NOT NULL,
    smallest_step TEXT NOT NULL,
    tracked TEXT NOT NULL,
    density TEXT,
    polymer TEXT,
    thickener TEXT,
    strength TEXT,
    size TEXT,
    fits TEXT,
    shelf_life_months INTEGER,
    open_life_months INTEGER,
    wanted_chance REAL,
    note TEXT,
    source TEXT,
    seed_key TEXT,
    seed_revision INTEGER,
    CONSTRAINT ck_supply_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_supply_kind_length CHECK (length(kind) <= 200),
    CONSTRAINT ck_supply_measured_in_length CHECK (length(measured_in) <= 200),
    CONSTRAINT ck_supply_smallest_step_length CHECK (length(smallest_step) <= 200),
    CONSTRAINT ck_supply_density_length CHECK (length(density) <= 200),
    CONSTRAINT ck_supply_polymer_length CHECK (length(polymer) <= 200),
    CONSTRAINT ck_supply_thickener_length CHECK (length(thickener) <= 200),
    CONSTRAINT ck_supply_strength_length CHECK (length(strength) <= 200),
    CONSTRAINT ck_supply_size_length CHECK (length(size) <= 200),
    CONSTRAINT ck_supply_fits_length CHECK (length(fits) <= 20000),
    CONSTRAINT ck_supply_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_supply_source_length CHECK (length(source) <= 20000),
    CONSTRAINT ck_supply_tracked_words CHECK (tracked IN ('count', 'pack', 'no')),
    CONSTRAINT ck_supply_shelf_life_months_range CHECK (shelf_life_months >= 1),
    CONSTRAINT ck_supply_open_life_months_range CHECK (open_life_months >= 1),
    CONSTRAINT ck_supply_wanted_chance_range CHECK (wanted_chance > 0 AND wanted_chance < 1),
    CONSTRAINT ck_supply_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_supply_version_range CHECK (version >= 1),
    CONSTRAINT uq_supply_key UNIQUE ("key"),
    CONSTRAINT fk_supply_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_supply_name_folded ON supply (name_folded) WHERE void = 0;

CREATE TABLE supply_caution (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    kind TEXT NOT NULL,
    caution TEXT NOT NULL,
    source TEXT,
    seed_key TEXT,
    seed_revision INTEGER,
    CONSTRAINT ck_supply_caution_kind_length CHECK (length(kind) <= 200),
    CONSTRAINT ck_supply_caution_caution_length CHECK (length(caution) <= 20000),
    CONSTRAINT ck_supply_caution_source_length CHECK (length(source) <= 20000),
    CONSTRAINT ck_supply_caution_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_supply_caution_version_range CHECK (version >= 1),
    CONSTRAINT uq_supply_caution_key UNIQUE ("key"),
    CONSTRAINT fk_supply_caution_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE TABLE shelf_life (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    what TEXT NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    months INTEGER NOT NULL,
    extension_months INTEGER,
    source TEXT,
    seed_key TEXT,
    seed_revision INTEGER,
    CONSTRAINT ck_shelf_life_what_length CHECK (length(what) <= 200),
    CONSTRAINT ck_shelf_life_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_shelf_life_source_length CHECK (length(source) <= 20000),
    CONSTRAINT ck_shelf_life_what_words CHECK (what IN ('polymer', 'thickener')),
    CONSTRAINT ck_shelf_life_months_range CHECK (months >= 1),
    CONSTRAINT ck_shelf_life_extension_months_range CHECK (extension_months >= 1),
    CONSTRAINT ck_shelf_life_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_shelf_life_version_range CHECK (version >= 1),
    CONSTRAINT uq_shelf_life_key UNIQUE ("key"),
    CONSTRAINT fk_shelf_life_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_shelf_life_what_name_folded ON shelf_life (what, name_folded) WHERE void = 0;

CREATE TABLE supplier (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    lead_days INTEGER,
    shipping_minor INTEGER,
    currency TEXT,
    note TEXT,
    CONSTRAINT ck_supplier_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_supplier_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_supplier_lead_days_range CHECK (lead_days >= 0),
    CONSTRAINT ck_supplier_shipping_minor_range CHECK (shipping_minor >= 0),
    CONSTRAINT ck_supplier_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_supplier_version_range CHECK (version >= 1),
    CONSTRAINT uq_supplier_key UNIQUE ("key"),
    CONSTRAINT fk_supplier_act_id FOREIGN KEY(act_id) REFERENCES act (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_supplier_name_folded ON supplier (name_folded) WHERE void = 0;

CREATE TABLE unit (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    tag TEXT NOT NULL,
    tag_folded TEXT NOT NULL,
    model_id INTEGER NOT NULL,
    serial TEXT,
    serial_folded TEXT,
    serial_state TEXT,
    acquired_on TEXT,
    acquired_from_id INTEGER,
    price_minor INTEGER,
    currency TEXT,
    condition TEXT,
    marks TEXT,
    jumpers TEXT,
    rom TEXT,
    modifications TEXT,
    accessories TEXT,
    note TEXT,
    CONSTRAINT ck_unit_tag_length CHECK (length(tag) <= 200),
    CONSTRAINT ck_unit_serial_length CHECK (length(serial) <= 200),
    CONSTRAINT ck_unit_rom_length CHECK (length(rom) <= 200),
    CONSTRAINT ck_unit_condition_length CHECK (length(condition) <= 20000),
    CONSTRAINT ck_unit_marks_length CHECK (length(marks) <= 20000),
    CONSTRAINT ck_unit_jumpers_length CHECK (length(jumpers) <= 20000),
    CONSTRAINT ck_unit_modifications_length CHECK (length(modifications) <= 20000),
    CONSTRAINT ck_unit_accessories_length CHECK (length(accessories) <= 20000),
    CONSTRAINT ck_unit_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_unit_serial_state_words CHECK (serial_state IN ('known', 'lost', 'illegible')),
    CONSTRAINT ck_unit_acquired_on_day CHECK ((length(acquired_on) = 10 AND acquired_on LIKE '____-__-__') OR (length(acquired_on) = 7 AND acquired_on LIKE '____-__') OR length(acquired_on) = 4),
    CONSTRAINT ck_unit_price_minor_range CHECK (price_minor >= 0),
    CONSTRAINT ck_unit_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_unit_version_range CHECK (version >= 1),
    CONSTRAINT uq_unit_key UNIQUE ("key"),
    CONSTRAINT fk_unit_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_unit_model_id FOREIGN KEY(model_id) REFERENCES model (id),
    CONSTRAINT fk_unit_acquired_from_id FOREIGN KEY(acquired_from_id) REFERENCES person (id)
)
 STRICT;

CREATE INDEX ix_unit_model_id ON unit (model_id);

CREATE UNIQUE INDEX ux_unit_tag_folded ON unit (tag_folded) WHERE void = 0;

CREATE INDEX ix_unit_serial_folded ON unit (serial_folded);

CREATE TABLE amount (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    procedure_id INTEGER NOT NULL,
    supply_id INTEGER NOT NULL,
    steps INTEGER NOT NULL,
    entered TEXT NOT NULL,
    entered_in TEXT,
    chance REAL,
    source TEXT,
    seed_key TEXT,
    seed_revision INTEGER,
    CONSTRAINT ck_amount_entered_length CHECK (length(entered) <= 200),
    CONSTRAINT ck_amount_entered_in_length CHECK (length(entered_in) <= 200),
    CONSTRAINT ck_amount_source_length CHECK (length(source) <= 20000),
    CONSTRAINT ck_amount_steps_range CHECK (steps >= 0),
    CONSTRAINT ck_amount_chance_range CHECK (chance >= 0 AND chance <= 1),
    CONSTRAINT ck_amount_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_amount_version_range CHECK (version >= 1),
    CONSTRAINT uq_amount_key UNIQUE ("key"),
    CONSTRAINT fk_amount_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_amount_procedure_id FOREIGN KEY(procedure_id) REFERENCES procedure (id),
    CONSTRAINT fk_amount_supply_id FOREIGN KEY(supply_id) REFERENCES supply (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_amount_procedure_id_supply_id ON amount (procedure_id, supply_id) WHERE void = 0;

CREATE TABLE loan (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT NOT NULL,
    direction TEXT NOT NULL,
    person_id INTEGER NOT NULL,
    out_on TEXT NOT NULL,
    due_on TEXT NOT NULL,
    purpose TEXT,
    deposit_minor INTEGER,
    currency TEXT,
    CONSTRAINT ck_loan_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_loan_purpose_length CHECK (length(purpose) <= 20000),
    CONSTRAINT ck_loan_direction_words CHECK (direction IN ('out', 'in')),
    CONSTRAINT ck_loan_out_on_day CHECK ((length(out_on) = 10 AND out_on LIKE '____-__-__') OR (length(out_on) = 7 AND out_on LIKE '____-__') OR length(out_on) = 4),
    CONSTRAINT ck_loan_due_on_day CHECK ((length(due_on) = 10 AND due_on LIKE '____-__-__') OR (length(due_on) = 7 AND due_on LIKE '____-__') OR length(due_on) = 4),
    CONSTRAINT ck_loan_due_after_out CHECK (due_on >= out_on),
    CONSTRAINT ck_loan_deposit_minor_range CHECK (deposit_minor >= 0),
    CONSTRAINT ck_loan_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_loan_version_range CHECK (version >= 1),
    CONSTRAINT uq_loan_key UNIQUE ("key"),
    CONSTRAINT fk_loan_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_loan_person_id FOREIGN KEY(person_id) REFERENCES person (id)
)
 STRICT;

CREATE INDEX ix_loan_person_id ON loan (person_id);

CREATE TABLE offer (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    supplier_id INTEGER NOT NULL,
    supply_id INTEGER NOT NULL,
    pack_steps INTEGER NOT NULL,
    entered TEXT NOT NULL,
    price_minor INTEGER NOT NULL,
    currency TEXT NOT NULL,
    from_packs INTEGER DEFAULT '1' NOT NULL,
    minimum_packs INTEGER,
    lead_days INTEGER,
    CONSTRAINT ck_offer_entered_length CHECK (length(entered) <= 200),
    CONSTRAINT ck_offer_pack_steps_range CHECK (pack_steps >= 1),
    CONSTRAINT ck_offer_price_minor_range CHECK (price_minor >= 0),
    CONSTRAINT ck_offer_from_packs_range CHECK (from_packs >= 1),
    CONSTRAINT ck_offer_minimum_packs_range CHECK (minimum_packs >= 1),
    CONSTRAINT ck_offer_lead_days_range CHECK (lead_days >= 0),
    CONSTRAINT ck_offer_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_offer_version_range CHECK (version >= 1),
    CONSTRAINT uq_offer_key UNIQUE ("key"),
    CONSTRAINT fk_offer_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_offer_supplier_id FOREIGN KEY(supplier_id) REFERENCES supplier (id),
    CONSTRAINT fk_offer_supply_id FOREIGN KEY(supply_id) REFERENCES supply (id)
)
 STRICT;

CREATE INDEX ix_offer_supply_id ON offer (supply_id);

CREATE TABLE lot (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    supply_id INTEGER NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    received_on TEXT NOT NULL,
    price_minor INTEGER,
    currency TEXT,
    supplier_id INTEGER,
    made TEXT,
    expires_on TEXT,
    note TEXT,
    CONSTRAINT ck_lot_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_lot_made_length CHECK (length(made) <= 200),
    CONSTRAINT ck_lot_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_lot_received_on_day CHECK ((length(received_on) = 10 AND received_on LIKE '____-__-__') OR (length(received_on) = 7 AND received_on LIKE '____-__') OR length(received_on) = 4),
    CONSTRAINT ck_lot_expires_on_day CHECK ((length(expires_on) = 10 AND expires_on LIKE '____-__-__') OR (length(expires_on) = 7 AND expires_on LIKE '____-__') OR length(expires_on) = 4),
    CONSTRAINT ck_lot_price_minor_range CHECK (price_minor >= 0),
    CONSTRAINT ck_lot_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_lot_version_range CHECK (version >= 1),
    CONSTRAINT uq_lot_key UNIQUE ("key"),
    CONSTRAINT fk_lot_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_lot_supply_id FOREIGN KEY(supply_id) REFERENCES supply (id),
    CONSTRAINT fk_lot_supplier_id FOREIGN KEY(supplier_id) REFERENCES supplier (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_lot_supply_id_name_folded ON lot (supply_id, name_folded) WHERE void = 0;

CREATE TABLE purchase_order (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    supplier_id INTEGER NOT NULL,
    ordered_on TEXT NOT NULL,
    CONSTRAINT ck_purchase_order_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_purchase_order_ordered_on_day CHECK ((length(ordered_on) = 10 AND ordered_on LIKE '____-__-__') OR (length(ordered_on) = 7 AND ordered_on LIKE '____-__') OR length(ordered_on) = 4),
    CONSTRAINT uq_purchase_order_key UNIQUE ("key"),
    CONSTRAINT fk_purchase_order_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_purchase_order_supplier_id FOREIGN KEY(supplier_id) REFERENCES supplier (id)
)
 STRICT;

CREATE INDEX ix_purchase_order_name_folded ON purchase_order (name_folded);

CREATE TABLE unit_alias (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    unit_id INTEGER NOT NULL,
    alias TEXT NOT NULL,
    alias_folded TEXT NOT NULL,
    CONSTRAINT ck_unit_alias_alias_length CHECK (length(alias) <= 200),
    CONSTRAINT ck_unit_alias_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_unit_alias_version_range CHECK (version >= 1),
    CONSTRAINT uq_unit_alias_key UNIQUE ("key"),
    CONSTRAINT fk_unit_alias_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_unit_alias_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_unit_alias_alias_folded ON unit_alias (alias_folded) WHERE void = 0;

CREATE TABLE pairing (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    drive_id INTEGER NOT NULL,
    supply_unit_id INTEGER NOT NULL,
    from_date TEXT NOT NULL,
    to_date TEXT,
    CONSTRAINT ck_pairing_from_date_day CHECK ((length(from_date) = 10 AND from_date LIKE '____-__-__') OR (length(from_date) = 7 AND from_date LIKE '____-__') OR length(from_date) = 4),
    CONSTRAINT ck_pairing_to_date_day CHECK ((length(to_date) = 10 AND to_date LIKE '____-__-__') OR (length(to_date) = 7 AND to_date LIKE '____-__') OR length(to_date) = 4),
    CONSTRAINT ck_pairing_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_pairing_version_range CHECK (version >= 1),
    CONSTRAINT uq_pairing_key UNIQUE ("key"),
    CONSTRAINT fk_pairing_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_pairing_drive_id FOREIGN KEY(drive_id) REFERENCES unit (id),
    CONSTRAINT fk_pairing_supply_unit_id FOREIGN KEY(supply_unit_id) REFERENCES unit (id)
)
 STRICT;

CREATE INDEX ix_pairing_drive_id ON pairing (drive_id);

CREATE INDEX ix_pairing_supply_unit_id ON pairing (supply_unit_id);

CREATE TABLE service (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT NOT NULL,
    unit_id INTEGER NOT NULL,
    opened_on TEXT NOT NULL,
    closed_on TEXT,
    reason TEXT,
    outcome TEXT,
    minutes INTEGER,
    by_id INTEGER,
    findings TEXT,
    CONSTRAINT ck_service_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_service_outcome_length CHECK (length(outcome) <= 200),
    CONSTRAINT ck_service_reason_length CHECK (length(reason) <= 20000),
    CONSTRAINT ck_service_findings_length CHECK (length(findings) <= 20000),
    CONSTRAINT ck_service_opened_on_day CHECK ((length(opened_on) = 10 AND opened_on LIKE '____-__-__') OR (length(opened_on) = 7 AND opened_on LIKE '____-__') OR length(opened_on) = 4),
    CONSTRAINT ck_service_closed_on_day CHECK ((length(closed_on) = 10 AND closed_on LIKE '____-__-__') OR (length(closed_on) = 7 AND closed_on LIKE '____-__') OR length(closed_on) = 4),
    CONSTRAINT ck_service_minutes_range CHECK (minutes >= 0),
    CONSTRAINT ck_service_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_service_version_range CHECK (version >= 1),
    CONSTRAINT uq_service_key UNIQUE ("key"),
    CONSTRAINT fk_service_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_service_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_service_by_id FOREIGN KEY(by_id) REFERENCES person (id)
)
 STRICT;

CREATE INDEX ix_service_unit_id ON service (unit_id, opened_on);

CREATE TABLE baseline (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    unit_id INTEGER NOT NULL,
    procedure_id INTEGER NOT NULL,
    last_done TEXT,
    first_due TEXT,
    CONSTRAINT ck_baseline_last_done_day CHECK ((length(last_done) = 10 AND last_done LIKE '____-__-__') OR (length(last_done) = 7 AND last_done LIKE '____-__') OR length(last_done) = 4),
    CONSTRAINT ck_baseline_first_due_day CHECK ((length(first_due) = 10 AND first_due LIKE '____-__-__') OR (length(first_due) = 7 AND first_due LIKE '____-__') OR length(first_due) = 4),
    CONSTRAINT ck_baseline_one_day CHECK ((last_done IS NULL) <> (first_due IS NULL)),
    CONSTRAINT uq_baseline_key UNIQUE ("key"),
    CONSTRAINT fk_baseline_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_baseline_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_baseline_procedure_id FOREIGN KEY(procedure_id) REFERENCES procedure (id)
)
 STRICT;

CREATE INDEX ix_baseline_unit_id ON baseline (unit_id);

CREATE TABLE hour_reading (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    unit_id INTEGER NOT NULL,
    read_on TEXT NOT NULL,
    hours REAL NOT NULL,
    reset INTEGER NOT NULL,
    CONSTRAINT ck_hour_reading_read_on_day CHECK ((length(read_on) = 10 AND read_on LIKE '____-__-__') OR (length(read_on) = 7 AND read_on LIKE '____-__') OR length(read_on) = 4),
    CONSTRAINT ck_hour_reading_hours_range CHECK (hours >= 0),
    CONSTRAINT ck_hour_reading_reset_yes_no CHECK (reset IN (0, 1)),
    CONSTRAINT uq_hour_reading_key UNIQUE ("key"),
    CONSTRAINT fk_hour_reading_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_hour_reading_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id)
)
 STRICT;

CREATE INDEX ix_hour_reading_unit_id ON hour_reading (unit_id);

CREATE TABLE limit_range (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    unit_id INTEGER,
    model_id INTEGER,
    class_name TEXT,
    measurement_id INTEGER NOT NULL,
    point TEXT NOT NULL,
    nominal REAL,
    lower REAL,
    upper REAL,
    source TEXT,
    from_date TEXT,
    seed_key TEXT,
    seed_revision INTEGER,
    CONSTRAINT ck_limit_range_class_name_length CHECK (length(class_name) <= 200),
    CONSTRAINT ck_limit_range_point_length CHECK (length(point) <= 200),
    CONSTRAINT ck_limit_range_source_length CHECK (length(source) <= 20000),
    CONSTRAINT ck_limit_range_from_date_day CHECK ((length(from_date) = 10 AND from_date LIKE '____-__-__') OR (length(from_date) = 7 AND from_date LIKE '____-__') OR length(from_date) = 4),
    CONSTRAINT ck_limit_range_one_scope CHECK ((CASE WHEN unit_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN model_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN class_name IS NULL THEN 0 ELSE 1 END) = 1),
    CONSTRAINT ck_limit_range_order CHECK (lower IS NULL OR upper IS NULL OR lower <= upper),
    CONSTRAINT ck_limit_range_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_limit_range_version_range CHECK (version >= 1),
    CONSTRAINT uq_limit_range_key UNIQUE ("key"),
    CONSTRAINT fk_limit_range_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_limit_range_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_limit_range_model_id FOREIGN KEY(model_id) REFERENCES model (id),
    CONSTRAINT fk_limit_range_measurement_id FOREIGN KEY(measurement_id) REFERENCES measurement (id)
)
 STRICT;

CREATE INDEX ix_limit_range_measurement_id ON limit_range (measurement_id);

CREATE TABLE instrument (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    name TEXT NOT NULL,
    name_folded TEXT NOT NULL,
    kind TEXT,
    unit_id INTEGER,
    host TEXT,
    made_version TEXT,
    note TEXT,
    CONSTRAINT ck_instrument_name_length CHECK (length(name) <= 200),
    CONSTRAINT ck_instrument_kind_length CHECK (length(kind) <= 200),
    CONSTRAINT ck_instrument_host_length CHECK (length(host) <= 200),
    CONSTRAINT ck_instrument_made_version_length CHECK (length(made_version) <= 200),
    CONSTRAINT ck_instrument_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_instrument_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_instrument_version_range CHECK (version >= 1),
    CONSTRAINT uq_instrument_key UNIQUE ("key"),
    CONSTRAINT fk_instrument_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_instrument_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_instrument_name_folded ON instrument (name_folded) WHERE void = 0;

CREATE TABLE series (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    unit_id INTEGER NOT NULL,
    measurement_id INTEGER NOT NULL,
    point TEXT NOT NULL,
    CONSTRAINT ck_series_point_length CHECK (length(point) <= 200),
    CONSTRAINT uq_series_key UNIQUE ("key"),
    CONSTRAINT fk_series_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_series_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_series_measurement_id FOREIGN KEY(measurement_id) REFERENCES measurement (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_series_unit_id ON series (unit_id, measurement_id, point);

CREATE TABLE loan_item (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    loan_id INTEGER NOT NULL,
    unit_id INTEGER NOT NULL,
    back_on TEXT,
    condition_out TEXT,
    condition_back TEXT,
    CONSTRAINT ck_loan_item_condition_out_length CHECK (length(condition_out) <= 20000),
    CONSTRAINT ck_loan_item_condition_back_length CHECK (length(condition_back) <= 20000),
    CONSTRAINT ck_loan_item_back_on_day CHECK ((length(back_on) = 10 AND back_on LIKE '____-__-__') OR (length(back_on) = 7 AND back_on LIKE '____-__') OR length(back_on) = 4),
    CONSTRAINT ck_loan_item_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_loan_item_version_range CHECK (version >= 1),
    CONSTRAINT uq_loan_item_key UNIQUE ("key"),
    CONSTRAINT fk_loan_item_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_loan_item_loan_id FOREIGN KEY(loan_id) REFERENCES loan (id),
    CONSTRAINT fk_loan_item_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id)
)
 STRICT;

CREATE UNIQUE INDEX ux_loan_item_loan_id_unit_id ON loan_item (loan_id, unit_id) WHERE void = 0;

CREATE INDEX ix_loan_item_unit_id ON loan_item (unit_id);

CREATE TABLE valuation (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    unit_id INTEGER NOT NULL,
    valued_on TEXT NOT NULL,
    amount_minor INTEGER NOT NULL,
    currency TEXT NOT NULL,
    basis TEXT NOT NULL,
    by_id INTEGER,
    evidence TEXT,
    CONSTRAINT ck_valuation_basis_length CHECK (length(basis) <= 200),
    CONSTRAINT ck_valuation_evidence_length CHECK (length(evidence) <= 20000),
    CONSTRAINT ck_valuation_valued_on_day CHECK ((length(valued_on) = 10 AND valued_on LIKE '____-__-__') OR (length(valued_on) = 7 AND valued_on LIKE '____-__') OR length(valued_on) = 4),
    CONSTRAINT ck_valuation_amount_minor_range CHECK (amount_minor >= 0),
    CONSTRAINT uq_valuation_key UNIQUE ("key"),
    CONSTRAINT fk_valuation_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_valuation_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_valuation_by_id FOREIGN KEY(by_id) REFERENCES person (id)
)
 STRICT;

CREATE INDEX ix_valuation_unit_id ON valuation (unit_id, valued_on);

CREATE TABLE order_line (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    order_id INTEGER NOT NULL,
    supply_id INTEGER NOT NULL,
    packs INTEGER NOT NULL,
    pack_steps INTEGER,
    CONSTRAINT ck_order_line_packs_range CHECK (packs >= 1),
    CONSTRAINT ck_order_line_pack_steps_range CHECK (pack_steps >= 1),
    CONSTRAINT uq_order_line_key UNIQUE ("key"),
    CONSTRAINT fk_order_line_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_order_line_order_id FOREIGN KEY(order_id) REFERENCES purchase_order (id),
    CONSTRAINT fk_order_line_supply_id FOREIGN KEY(supply_id) REFERENCES supply (id)
)
 STRICT;

CREATE INDEX ix_order_line_order_id ON order_line (order_id);

CREATE TABLE unit_entry (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    unit_id INTEGER NOT NULL,
    what TEXT NOT NULL,
    from_date TEXT NOT NULL,
    person_id INTEGER,
    location_id INTEGER,
    standing TEXT,
    service_id INTEGER,
    loan_id INTEGER,
    note TEXT,
    CONSTRAINT ck_unit_entry_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_unit_entry_what_words CHECK (what IN ('owner', 'location', 'standing')),
    CONSTRAINT ck_unit_entry_standing_words CHECK (standing IN ('arrived', 'on the bench', 'ready', 'in use', 'on loan', 'awaiting parts', 'away', 'donor', 'missing', 'gone')),
    CONSTRAINT ck_unit_entry_from_date_day CHECK ((length(from_date) = 10 AND from_date LIKE '____-__-__') OR (length(from_date) = 7 AND from_date LIKE '____-__') OR length(from_date) = 4),
    CONSTRAINT ck_unit_entry_one_value CHECK ((what = 'owner' AND location_id IS NULL AND standing IS NULL) OR (what = 'location' AND location_id IS NOT NULL AND person_id IS NULL AND standing IS NULL) OR (what = 'standing' AND standing IS NOT NULL AND person_id IS NULL AND location_id IS NULL)),
    CONSTRAINT uq_unit_entry_key UNIQUE ("key"),
    CONSTRAINT fk_unit_entry_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_unit_entry_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_unit_entry_person_id FOREIGN KEY(person_id) REFERENCES person (id),
    CONSTRAINT fk_unit_entry_location_id FOREIGN KEY(location_id) REFERENCES location (id),
    CONSTRAINT fk_unit_entry_service_id FOREIGN KEY(service_id) REFERENCES service (id),
    CONSTRAINT fk_unit_entry_loan_id FOREIGN KEY(loan_id) REFERENCES loan (id)
)
 STRICT;

CREATE INDEX ix_unit_entry_unit_id ON unit_entry (unit_id, what, from_date);

CREATE TABLE fitted_part (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    unit_id INTEGER NOT NULL,
    part TEXT NOT NULL,
    fitted_on TEXT NOT NULL,
    removed_on TEXT,
    supply_id INTEGER,
    lot_id INTEGER,
    donor_id INTEGER,
    part_unit_id INTEGER,
    service_id INTEGER,
    note TEXT,
    CONSTRAINT ck_fitted_part_part_length CHECK (length(part) <= 200),
    CONSTRAINT ck_fitted_part_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_fitted_part_fitted_on_day CHECK ((length(fitted_on) = 10 AND fitted_on LIKE '____-__-__') OR (length(fitted_on) = 7 AND fitted_on LIKE '____-__') OR length(fitted_on) = 4),
    CONSTRAINT ck_fitted_part_removed_on_day CHECK ((length(removed_on) = 10 AND removed_on LIKE '____-__-__') OR (length(removed_on) = 7 AND removed_on LIKE '____-__') OR length(removed_on) = 4),
    CONSTRAINT ck_fitted_part_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_fitted_part_version_range CHECK (version >= 1),
    CONSTRAINT uq_fitted_part_key UNIQUE ("key"),
    CONSTRAINT fk_fitted_part_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_fitted_part_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_fitted_part_supply_id FOREIGN KEY(supply_id) REFERENCES supply (id),
    CONSTRAINT fk_fitted_part_lot_id FOREIGN KEY(lot_id) REFERENCES lot (id),
    CONSTRAINT fk_fitted_part_donor_id FOREIGN KEY(donor_id) REFERENCES unit (id),
    CONSTRAINT fk_fitted_part_part_unit_id FOREIGN KEY(part_unit_id) REFERENCES unit (id),
    CONSTRAINT fk_fitted_part_service_id FOREIGN KEY(service_id) REFERENCES service (id)
)
 STRICT;

CREATE INDEX ix_fitted_part_donor_id ON fitted_part (donor_id);

CREATE INDEX ix_fitted_part_unit_id ON fitted_part (unit_id);

CREATE TABLE attachment (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    content_id INTEGER NOT NULL,
    unit_id INTEGER,
    service_id INTEGER,
    title TEXT NOT NULL,
    media_type TEXT NOT NULL,
    taken_on TEXT,
    note TEXT,
    CONSTRAINT ck_attachment_title_length CHECK (length(title) <= 200),
    CONSTRAINT ck_attachment_media_type_length CHECK (length(media_type) <= 200),
    CONSTRAINT ck_attachment_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_attachment_taken_on_day CHECK ((length(taken_on) = 10 AND taken_on LIKE '____-__-__') OR (length(taken_on) = 7 AND taken_on LIKE '____-__') OR length(taken_on) = 4),
    CONSTRAINT ck_attachment_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_attachment_version_range CHECK (version >= 1),
    CONSTRAINT uq_attachment_key UNIQUE ("key"),
    CONSTRAINT fk_attachment_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_attachment_content_id FOREIGN KEY(content_id) REFERENCES attachment_content (id),
    CONSTRAINT fk_attachment_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_attachment_service_id FOREIGN KEY(service_id) REFERENCES service (id)
)
 STRICT;

CREATE INDEX ix_attachment_unit_id ON attachment (unit_id);

CREATE TABLE task (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    service_id INTEGER NOT NULL,
    procedure_id INTEGER NOT NULL,
    procedure_revision INTEGER NOT NULL,
    done_on TEXT NOT NULL,
    CONSTRAINT ck_task_done_on_day CHECK ((length(done_on) = 10 AND done_on LIKE '____-__-__') OR (length(done_on) = 7 AND done_on LIKE '____-__') OR length(done_on) = 4),
    CONSTRAINT uq_task_key UNIQUE ("key"),
    CONSTRAINT fk_task_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_task_service_id FOREIGN KEY(service_id) REFERENCES service (id),
    CONSTRAINT fk_task_procedure_id FOREIGN KEY(procedure_id) REFERENCES procedure (id)
)
 STRICT;

CREATE INDEX ix_task_service_id ON task (service_id);

CREATE TABLE fault (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    unit_id INTEGER NOT NULL,
    noticed_on TEXT NOT NULL,
    symptom TEXT NOT NULL,
    circumstances TEXT,
    cause TEXT,
    cure TEXT,
    no_fault_found INTEGER DEFAULT '0' NOT NULL,
    closed_on TEXT,
    service_id INTEGER,
    by_id INTEGER,
    CONSTRAINT ck_fault_symptom_length CHECK (length(symptom) <= 20000),
    CONSTRAINT ck_fault_circumstances_length CHECK (length(circumstances) <= 20000),
    CONSTRAINT ck_fault_cause_length CHECK (length(cause) <= 20000),
    CONSTRAINT ck_fault_cure_length CHECK (length(cure) <= 20000),
    CONSTRAINT ck_fault_noticed_on_day CHECK ((length(noticed_on) = 10 AND noticed_on LIKE '____-__-__') OR (length(noticed_on) = 7 AND noticed_on LIKE '____-__') OR length(noticed_on) = 4),
    CONSTRAINT ck_fault_closed_on_day CHECK ((length(closed_on) = 10 AND closed_on LIKE '____-__-__') OR (length(closed_on) = 7 AND closed_on LIKE '____-__') OR length(closed_on) = 4),
    CONSTRAINT ck_fault_no_fault_found_yes_no CHECK (no_fault_found IN (0, 1)),
    CONSTRAINT ck_fault_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_fault_version_range CHECK (version >= 1),
    CONSTRAINT uq_fault_key UNIQUE ("key"),
    CONSTRAINT fk_fault_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_fault_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_fault_service_id FOREIGN KEY(service_id) REFERENCES service (id),
    CONSTRAINT fk_fault_by_id FOREIGN KEY(by_id) REFERENCES person (id)
)
 STRICT;

CREATE INDEX ix_fault_unit_id ON fault (unit_id);

CREATE TABLE instrument_use (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    version INTEGER DEFAULT '1' NOT NULL,
    void INTEGER DEFAULT '0' NOT NULL,
    instrument_id INTEGER NOT NULL,
    measurement_id INTEGER NOT NULL,
    reference INTEGER,
    from_date TEXT,
    resolution REAL,
    uncertainty REAL,
    CONSTRAINT ck_instrument_use_reference_yes_no CHECK (reference IN (0, 1)),
    CONSTRAINT ck_instrument_use_resolution_range CHECK (resolution >= 0),
    CONSTRAINT ck_instrument_use_uncertainty_range CHECK (uncertainty >= 0),
    CONSTRAINT ck_instrument_use_from_date_day CHECK ((length(from_date) = 10 AND from_date LIKE '____-__-__') OR (length(from_date) = 7 AND from_date LIKE '____-__') OR length(from_date) = 4),
    CONSTRAINT ck_instrument_use_void_yes_no CHECK (void IN (0, 1)),
    CONSTRAINT ck_instrument_use_version_range CHECK (version >= 1),
    CONSTRAINT uq_instrument_use_key UNIQUE ("key"),
    CONSTRAINT fk_instrument_use_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_instrument_use_instrument_id FOREIGN KEY(instrument_id) REFERENCES instrument (id),
    CONSTRAINT fk_instrument_use_measurement_id FOREIGN KEY(measurement_id) REFERENCES measurement (id)
)
 STRICT;

CREATE INDEX ix_instrument_use_instrument_id ON instrument_use (instrument_id);

CREATE TABLE reading (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    series_id INTEGER NOT NULL,
    taken_on TEXT NOT NULL,
    value REAL,
    grade TEXT,
    instrument_id INTEGER NOT NULL,
    stage TEXT NOT NULL,
    service_id INTEGER,
    entered TEXT NOT NULL,
    entered_in TEXT,
    disk TEXT,
    supply_unit_id INTEGER,
    warm_up_minutes REAL,
    load TEXT,
    note TEXT,
    CONSTRAINT ck_reading_entered_length CHECK (length(entered) <= 200),
    CONSTRAINT ck_reading_entered_in_length CHECK (length(entered_in) <= 200),
    CONSTRAINT ck_reading_disk_length CHECK (length(disk) <= 200),
    CONSTRAINT ck_reading_load_length CHECK (length(load) <= 200),
    CONSTRAINT ck_reading_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_reading_taken_on_day CHECK ((length(taken_on) = 10 AND taken_on LIKE '____-__-__') OR (length(taken_on) = 7 AND taken_on LIKE '____-__') OR length(taken_on) = 4),
    CONSTRAINT ck_reading_grade_words CHECK (grade IN ('pass', 'marginal', 'fail')),
    CONSTRAINT ck_reading_stage_words CHECK (stage IN ('as found', 'as left', 'between')),
    CONSTRAINT ck_reading_value_or_grade CHECK ((value IS NULL) <> (grade IS NULL)),
    CONSTRAINT ck_reading_stage_in_service CHECK (stage = 'between' OR service_id IS NOT NULL),
    CONSTRAINT ck_reading_warm_up_minutes_range CHECK (warm_up_minutes >= 0),
    CONSTRAINT uq_reading_key UNIQUE ("key"),
    CONSTRAINT fk_reading_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_reading_series_id FOREIGN KEY(series_id) REFERENCES series (id),
    CONSTRAINT fk_reading_instrument_id FOREIGN KEY(instrument_id) REFERENCES instrument (id),
    CONSTRAINT fk_reading_service_id FOREIGN KEY(service_id) REFERENCES service (id),
    CONSTRAINT fk_reading_supply_unit_id FOREIGN KEY(supply_unit_id) REFERENCES unit (id)
)
 STRICT;

CREATE INDEX ix_reading_series_id ON reading (series_id, taken_on);

CREATE INDEX ix_reading_service_id ON reading (service_id);

CREATE TABLE movement (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    supply_id INTEGER NOT NULL,
    lot_id INTEGER,
    kind TEXT NOT NULL,
    steps INTEGER NOT NULL,
    entered TEXT NOT NULL,
    entered_in TEXT,
    occurred_on TEXT NOT NULL,
    basis TEXT,
    planned INTEGER,
    service_id INTEGER,
    procedure_id INTEGER,
    unit_id INTEGER,
    order_line_id INTEGER,
    location_id INTEGER,
    reason TEXT,
    reverses_id INTEGER,
    group_key TEXT,
    used_past_date INTEGER DEFAULT '0' NOT NULL,
    CONSTRAINT ck_movement_entered_length CHECK (length(entered) <= 200),
    CONSTRAINT ck_movement_entered_in_length CHECK (length(entered_in) <= 200),
    CONSTRAINT ck_movement_reason_length CHECK (length(reason) <= 20000),
    CONSTRAINT ck_movement_kind_words CHECK (kind IN ('receive', 'use', 'open', 'discard', 'return', 'count', 'move', 'repack', 'short', 'reverse')),
    CONSTRAINT ck_movement_basis_words CHECK (basis IN ('sheet', 'measured', 'count')),
    CONSTRAINT ck_movement_occurred_on_day CHECK ((length(occurred_on) = 10 AND occurred_on LIKE '____-__-__') OR (length(occurred_on) = 7 AND occurred_on LIKE '____-__') OR length(occurred_on) = 4),
    CONSTRAINT ck_movement_planned_yes_no CHECK (planned IN (0, 1)),
    CONSTRAINT ck_movement_used_past_date_yes_no CHECK (used_past_date IN (0, 1)),
    CONSTRAINT ck_movement_sign CHECK ((kind IN ('receive', 'count') AND steps >= 0) OR (kind IN ('use', 'discard', 'return') AND steps <= 0) OR kind IN ('move', 'repack', 'reverse') OR (kind = 'open' AND steps = 0) OR (kind = 'short' AND steps >= 0)),
    CONSTRAINT ck_movement_discard_reason CHECK (kind <> 'discard' OR reason IS NOT NULL),
    CONSTRAINT ck_movement_reverses CHECK ((kind = 'reverse') = (reverses_id IS NOT NULL)),
    CONSTRAINT uq_movement_key UNIQUE ("key"),
    CONSTRAINT fk_movement_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_movement_supply_id FOREIGN KEY(supply_id) REFERENCES supply (id),
    CONSTRAINT fk_movement_lot_id FOREIGN KEY(lot_id) REFERENCES lot (id),
    CONSTRAINT fk_movement_service_id FOREIGN KEY(service_id) REFERENCES service (id),
    CONSTRAINT fk_movement_procedure_id FOREIGN KEY(procedure_id) REFERENCES procedure (id),
    CONSTRAINT fk_movement_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id),
    CONSTRAINT fk_movement_order_line_id FOREIGN KEY(order_line_id) REFERENCES order_line (id),
    CONSTRAINT fk_movement_location_id FOREIGN KEY(location_id) REFERENCES location (id),
    CONSTRAINT fk_movement_reverses_id FOREIGN KEY(reverses_id) REFERENCES movement (id)
)
 STRICT;

CREATE INDEX ix_movement_supply_id ON movement (supply_id, occurred_on);

CREATE INDEX ix_movement_reverses_id ON movement (reverses_id);

CREATE INDEX ix_movement_service_id ON movement (service_id);

CREATE TABLE order_event (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    line_id INTEGER NOT NULL,
    kind TEXT NOT NULL,
    happened_on TEXT NOT NULL,
    packs INTEGER,
    CONSTRAINT ck_order_event_kind_words CHECK (kind IN ('arrived', 'cancelled')),
    CONSTRAINT ck_order_event_happened_on_day CHECK ((length(happened_on) = 10 AND happened_on LIKE '____-__-__') OR (length(happened_on) = 7 AND happened_on LIKE '____-__') OR length(happened_on) = 4),
    CONSTRAINT ck_order_event_packs_range CHECK (packs >= 0),
    CONSTRAINT uq_order_event_key UNIQUE ("key"),
    CONSTRAINT fk_order_event_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_order_event_line_id FOREIGN KEY(line_id) REFERENCES order_line (id)
)
 STRICT;

CREATE INDEX ix_order_event_line_id ON order_event (line_id);

CREATE TABLE reading_aside (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    reading_id INTEGER NOT NULL,
    reason TEXT NOT NULL,
    CONSTRAINT ck_reading_aside_reason_length CHECK (length(reason) <= 20000),
    CONSTRAINT uq_reading_aside_key UNIQUE ("key"),
    CONSTRAINT fk_reading_aside_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_reading_aside_reading_id FOREIGN KEY(reading_id) REFERENCES reading (id)
)
 STRICT;

CREATE INDEX ix_reading_aside_reading_id ON reading_aside (reading_id);

CREATE TRIGGER keep_act_update BEFORE UPDATE ON act BEGIN SELECT RAISE(ABORT, 'append-only: a row of act stays as it was written'); END;

CREATE TRIGGER keep_act_delete BEFORE DELETE ON act BEGIN SELECT RAISE(ABORT, 'append-only: a row of act stays as it was written'); END;

CREATE TRIGGER keep_attachment_content_update BEFORE UPDATE ON attachment_content BEGIN SELECT RAISE(ABORT, 'append-only: a row of attachment_content stays as it was written'); END;

CREATE TRIGGER keep_attachment_content_delete BEFORE DELETE ON attachment_content BEGIN SELECT RAISE(ABORT, 'append-only: a row of attachment_content stays as it was written'); END;

CREATE TRIGGER keep_baseline_update BEFORE UPDATE ON baseline BEGIN SELECT RAISE(ABORT, 'append-only: a row of baseline stays as it was written'); END;

CREATE TRIGGER keep_baseline_delete BEFORE DELETE ON baseline BEGIN SELECT RAISE(ABORT, 'append-only: a row of baseline stays as it was written'); END;

CREATE TRIGGER keep_change_update BEFORE UPDATE ON change BEGIN SELECT RAISE(ABORT, 'append-only: a row of change stays as it was written'); END;

CREATE TRIGGER keep_change_delete BEFORE DELETE ON change BEGIN SELECT RAISE(ABORT, 'append-only: a row of change stays as it was written'); END;

CREATE TRIGGER keep_doubt_update BEFORE UPDATE ON doubt BEGIN SELECT RAISE(ABORT, 'append-only: a row of doubt stays as it was written'); END;

CREATE TRIGGER keep_doubt_delete BEFORE DELETE ON doubt BEGIN SELECT RAISE(ABORT, 'append-only: a row of doubt stays as it was written'); END;

CREATE TRIGGER keep_hour_reading_update BEFORE UPDATE ON hour_reading BEGIN SELECT RAISE(ABORT, 'append-only: a row of hour_reading stays as it was written'); END;

CREATE TRIGGER keep_hour_reading_delete BEFORE DELETE ON hour_reading BEGIN SELECT RAISE(ABORT, 'append-only: a row of hour_reading stays as it was written'); END;

CREATE TRIGGER keep_movement_update BEFORE UPDATE ON movement BEGIN SELECT RAISE(ABORT, 'append-only: a row of movement stays as it was written'); END;

CREATE TRIGGER keep_movement_delete BEFORE DELETE ON movement BEGIN SELECT RAISE(ABORT, 'append-only: a row of movement stays as it was written'); END;

CREATE TRIGGER keep_order_event_update BEFORE UPDATE ON order_event BEGIN SELECT RAISE(ABORT, 'append-only: a row of order_event stays as it was written'); END;

CREATE TRIGGER keep_order_event_delete BEFORE DELETE ON order_event BEGIN SELECT RAISE(ABORT, 'append-only: a row of order_event stays as it was written'); END;

CREATE TRIGGER keep_order_line_update BEFORE UPDATE ON order_line BEGIN SELECT RAISE(ABORT, 'append-only: a row of order_line stays as it was written'); END;

CREATE TRIGGER keep_order_line_delete BEFORE DELETE ON order_line BEGIN SELECT RAISE(ABORT, 'append-only: a row of order_line stays as it was written'); END;

CREATE TRIGGER keep_purchase_order_update BEFORE UPDATE ON purchase_order BEGIN SELECT RAISE(ABORT, 'append-only: a row of purchase_order stays as it was written'); END;

CREATE TRIGGER keep_purchase_order_delete BEFORE DELETE ON purchase_order BEGIN SELECT RAISE(ABORT, 'append-only: a row of purchase_order stays as it was written'); END;

CREATE TRIGGER keep_reading_update BEFORE UPDATE ON reading BEGIN SELECT RAISE(ABORT, 'append-only: a row of reading stays as it was written'); END;

CREATE TRIGGER keep_reading_delete BEFORE DELETE ON reading BEGIN SELECT RAISE(ABORT, 'append-only: a row of reading stays as it was written'); END;

CREATE TRIGGER keep_reading_aside_update BEFORE UPDATE ON reading_aside BEGIN SELECT RAISE(ABORT, 'append-only: a row of reading_aside stays as it was written'); END;

CREATE TRIGGER keep_reading_aside_delete BEFORE DELETE ON reading_aside BEGIN SELECT RAISE(ABORT, 'append-only: a row of reading_aside stays as it was written'); END;

CREATE TRIGGER keep_seal_update BEFORE UPDATE ON seal BEGIN SELECT RAISE(ABORT, 'append-only: a row of seal stays as it was written'); END;

CREATE TRIGGER keep_seal_delete BEFORE DELETE ON seal BEGIN SELECT RAISE(ABORT, 'append-only: a row of seal stays as it was written'); END;

CREATE TRIGGER keep_series_update BEFORE UPDATE ON series BEGIN SELECT RAISE(ABORT, 'append-only: a row of series stays as it was written'); END;

CREATE TRIGGER keep_series_delete BEFORE DELETE ON series BEGIN SELECT RAISE(ABORT, 'append-only: a row of series stays as it was written'); END;

CREATE TRIGGER keep_task_update BEFORE UPDATE ON task BEGIN SELECT RAISE(ABORT, 'append-only: a row of task stays as it was written'); END;

CREATE TRIGGER keep_task_delete BEFORE DELETE ON task BEGIN SELECT RAISE(ABORT, 'append-only: a row of task stays as it was written'); END;

CREATE TRIGGER keep_unit_entry_update BEFORE UPDATE ON unit_entry BEGIN SELECT RAISE(ABORT, 'append-only: a row of unit_entry stays as it was written'); END;

CREATE TRIGGER keep_unit_entry_delete BEFORE DELETE ON unit_entry BEGIN SELECT RAISE(ABORT, 'append-only: a row of unit_entry stays as it was written'); END;

CREATE TRIGGER keep_valuation_update BEFORE UPDATE ON valuation BEGIN SELECT RAISE(ABORT, 'append-only: a row of valuation stays as it was written'); END;

CREATE TRIGGER keep_valuation_delete BEFORE DELETE ON valuation BEGIN SELECT RAISE(ABORT, 'append-only: a row of valuation stays as it was written'); END;
