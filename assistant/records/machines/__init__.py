"""Machine profiles: one TOML file each, read, written and changed in place."""
