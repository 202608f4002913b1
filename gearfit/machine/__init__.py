"""The motorcycle as specified: bike.toml and its rules, tyre codes, the air."""
