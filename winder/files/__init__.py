"""Reading and writing what people write: quantities, TOML with lines, fields and forms."""
