ALTER TABLE book ADD COLUMN accepted_risk DOUBLE PRECISION CONSTRAINT ck_book_accepted_risk_range CHECK (accepted_risk BETWEEN 0.001 AND 0.5);
