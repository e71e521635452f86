"""The desk: takes a submission in, has it interpreted, keeps the record, shows it again. No Flask here."""
