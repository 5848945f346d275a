"""Files in and out: catalogues, schedules, readbacks, stock lists, drawings."""
