"""Results for people and other programs: sentences, tables, pictures, files."""
