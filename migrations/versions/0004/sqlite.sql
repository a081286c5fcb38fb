ALTER TABLE book ADD COLUMN bench_weekdays TEXT CONSTRAINT ck_book_bench_weekdays_length CHECK (length(bench_weekdays) <= 200);

ALTER TABLE book ADD COLUMN bench_minutes INTEGER CONSTRAINT ck_book_bench_minutes_range CHECK (bench_minutes BETWEEN 1 AND 1440);

ALTER TABLE book ADD COLUMN order_cost_minor INTEGER CONSTRAINT ck_book_order_cost_minor_range CHECK (order_cost_minor >= 0);

ALTER TABLE book ADD COLUMN holding_rate REAL CONSTRAINT ck_book_holding_rate_range CHECK (holding_rate BETWEEN 0 AND 1);

ALTER TABLE supply ADD COLUMN guess_a_year REAL CONSTRAINT ck_supply_guess_a_year_range CHECK (guess_a_year BETWEEN 0 AND 100000);

ALTER TABLE supply ADD COLUMN written_since TEXT CONSTRAINT ck_supply_written_since_day CHECK ((length(written_since) = 10 AND written_since LIKE '____-__-__') OR (length(written_since) = 7 AND written_since LIKE '____-__') OR length(written_since) = 4);

ALTER TABLE order_line ADD COLUMN price_minor INTEGER CONSTRAINT ck_order_line_price_minor_range CHECK (price_minor >= 0);

ALTER TABLE order_line ADD COLUMN currency TEXT CONSTRAINT ck_order_line_currency_code CHECK (length(currency) = 3);

CREATE TABLE order_promise (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    order_id INTEGER NOT NULL,
    told_on TEXT NOT NULL,
    expected_on TEXT NOT NULL,
    CONSTRAINT ck_order_promise_told_on_day CHECK ((length(told_on) = 10 AND told_on LIKE '____-__-__') OR (length(told_on) = 7 AND told_on LIKE '____-__') OR length(told_on) = 4),
    CONSTRAINT ck_order_promise_expected_on_day CHECK ((length(expected_on) = 10 AND expected_on LIKE '____-__-__') OR (length(expected_on) = 7 AND expected_on LIKE '____-__') OR length(expected_on) = 4),
    CONSTRAINT uq_order_promise_key UNIQUE ("key"),
    CONSTRAINT fk_order_promise_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_order_promise_order_id FOREIGN KEY(order_id) REFERENCES purchase_order (id)
)
 STRICT;

CREATE TABLE lot_inspection (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" TEXT NOT NULL,
    act_id INTEGER NOT NULL,
    lot_id INTEGER NOT NULL,
    inspected_on TEXT NOT NULL,
    result TEXT NOT NULL,
    good_through TEXT,
    note TEXT,
    CONSTRAINT ck_lot_inspection_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_lot_inspection_result_words CHECK (result IN ('pass', 'fail')),
    CONSTRAINT ck_lot_inspection_inspected_on_day CHECK ((length(inspected_on) = 10 AND inspected_on LIKE '____-__-__') OR (length(inspected_on) = 7 AND inspected_on LIKE '____-__') OR length(inspected_on) = 4),
    CONSTRAINT ck_lot_inspection_good_through_day CHECK ((length(good_through) = 10 AND good_through LIKE '____-__-__')),
    CONSTRAINT ck_lot_inspection_good_through_passed CHECK (result = 'pass' OR good_through IS NULL),
    CONSTRAINT uq_lot_inspection_key UNIQUE ("key"),
    CONSTRAINT fk_lot_inspection_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_lot_inspection_lot_id FOREIGN KEY(lot_id) REFERENCES lot (id)
)
 STRICT;

CREATE INDEX ix_order_promise_order_id ON order_promise (order_id);

CREATE INDEX ix_lot_inspection_lot_id ON lot_inspection (lot_id);

CREATE TRIGGER keep_lot_inspection_update BEFORE UPDATE ON lot_inspection BEGIN SELECT RAISE(ABORT, 'append-only: a row of lot_inspection stays as it was written'); END;

CREATE TRIGGER keep_lot_inspection_delete BEFORE DELETE ON lot_inspection BEGIN SELECT RAISE(ABORT, 'append-only: a row of lot_inspection stays as it was written'); END;

CREATE TRIGGER keep_order_promise_update BEFORE UPDATE ON order_promise BEGIN SELECT RAISE(ABORT, 'append-only: a row of order_promise stays as it was written'); END;

CREATE TRIGGER keep_order_promise_delete BEFORE DELETE ON order_promise BEGIN SELECT RAISE(ABORT, 'append-only: a row of order_promise stays as it was written'); END;
