ALTER TABLE book ADD COLUMN accepted_risk REAL CONSTRAINT ck_book_accepted_risk_range CHECK (accepted_risk BETWEEN 0.001 AND 0.5);
