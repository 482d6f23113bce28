"""The interview: a case asked through one question at a time."""
