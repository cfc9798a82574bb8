"""What a picture shows, as numpy records: no surface and no graphics library in here."""
