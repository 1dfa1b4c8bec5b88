"""Running Midlimit for years: backups, checks, moving a shop, settings, logs."""
