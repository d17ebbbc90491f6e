"""What each page shows, as frozen data made from rows and a clock: no HTML, no database."""
