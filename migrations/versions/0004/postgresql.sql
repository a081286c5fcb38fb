ALTER TABLE book ADD COLUMN bench_weekdays TEXT COLLATE "C" CONSTRAINT ck_book_bench_weekdays_length CHECK (length(bench_weekdays) <= 200);

ALTER TABLE book ADD COLUMN bench_minutes BIGINT CONSTRAINT ck_book_bench_minutes_range CHECK (bench_minutes BETWEEN 1 AND 1440);

ALTER TABLE book ADD COLUMN order_cost_minor BIGINT CONSTRAINT ck_book_order_cost_minor_range CHECK (order_cost_minor >= 0);

ALTER TABLE book ADD COLUMN holding_rate DOUBLE PRECISION CONSTRAINT ck_book_holding_rate_range CHECK (holding_rate BETWEEN 0 AND 1);

ALTER TABLE supply ADD COLUMN guess_a_year DOUBLE PRECISION CONSTRAINT ck_supply_guess_a_year_range CHECK (guess_a_year BETWEEN 0 AND 100000);

ALTER TABLE supply ADD COLUMN written_since TEXT COLLATE "C" CONSTRAINT ck_supply_written_since_day CHECK ((length(written_since) = 10 AND written_since LIKE '____-__-__') OR (length(written_since) = 7 AND written_since LIKE '____-__') OR length(written_since) = 4);

ALTER TABLE order_line ADD COLUMN price_minor BIGINT CONSTRAINT ck_order_line_price_minor_range CHECK (price_minor >= 0);

ALTER TABLE order_line ADD COLUMN currency TEXT COLLATE "C" CONSTRAINT ck_order_line_currency_code CHECK (length(currency) = 3);

CREATE TABLE order_promise (
    id BIGSERIAL NOT NULL,
    key TEXT COLLATE "C" NOT NULL,
    act_id BIGINT NOT NULL,
    order_id BIGINT NOT NULL,
    told_on TEXT COLLATE "C" NOT NULL,
    expected_on TEXT COLLATE "C" NOT NULL,
    CONSTRAINT pk_order_promise PRIMARY KEY (id),
    CONSTRAINT ck_order_promise_told_on_day CHECK ((length(told_on) = 10 AND told_on LIKE '____-__-__') OR (length(told_on) = 7 AND told_on LIKE '____-__') OR length(told_on) = 4),
    CONSTRAINT ck_order_promise_expected_on_day CHECK ((length(expected_on) = 10 AND expected_on LIKE '____-__-__') OR (length(expected_on) = 7 AND expected_on LIKE '____-__') OR length(expected_on) = 4),
    CONSTRAINT uq_order_promise_key UNIQUE (key),
    CONSTRAINT fk_order_promise_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_order_promise_order_id FOREIGN KEY(order_id) REFERENCES purchase_order (id)
);

CREATE TABLE lot_inspection (
    id BIGSERIAL NOT NULL,
    key TEXT COLLATE "C" NOT NULL,
    act_id BIGINT NOT NULL,
    lot_id BIGINT NOT NULL,
    inspected_on TEXT COLLATE "C" NOT NULL,
    result TEXT COLLATE "C" NOT NULL,
    good_through TEXT COLLATE "C",
    note TEXT COLLATE "C",
    CONSTRAINT pk_lot_inspection PRIMARY KEY (id),
    CONSTRAINT ck_lot_inspection_note_length CHECK (length(note) <= 20000),
    CONSTRAINT ck_lot_inspection_result_words CHECK (result IN ('pass', 'fail')),
    CONSTRAINT ck_lot_inspection_inspected_on_day CHECK ((length(inspected_on) = 10 AND inspected_on LIKE '____-__-__') OR (length(inspected_on) = 7 AND inspected_on LIKE '____-__') OR length(inspected_on) = 4),
    CONSTRAINT ck_lot_inspection_good_through_day CHECK ((length(good_through) = 10 AND good_through LIKE '____-__-__')),
    CONSTRAINT ck_lot_inspection_good_through_passed CHECK (result = 'pass' OR good_through IS NULL),
    CONSTRAINT uq_lot_inspection_key UNIQUE (key),
    CONSTRAINT fk_lot_inspection_act_id FOREIGN KEY(act_id) REFERENCES act (id),
    CONSTRAINT fk_lot_inspection_lot_id FOREIGN KEY(lot_id) REFERENCES lot (id)
);

CREATE INDEX ix_order_promise_order_id ON order_promise (order_id);

CREATE INDEX ix_lot_inspection_lot_id ON lot_inspection (lot_id);

CREATE TRIGGER keep_lot_inspection_update BEFORE UPDATE ON lot_inspection FOR EACH ROW EXECUTE FUNCTION book_refuse();

CREATE TRIGGER keep_lot_inspection_delete BEFORE DELETE ON lot_inspection FOR EACH ROW EXECUTE FUNCTION book_refuse();

CREATE TRIGGER keep_order_promise_update BEFORE UPDATE ON order_promise FOR EACH ROW EXECUTE FUNCTION book_refuse();

CREATE TRIGGER keep_order_promise_delete BEFORE DELETE ON order_promise FOR EACH ROW EXECUTE FUNCTION book_refuse();
