"""The page in a real browser; a package, so that its fixtures and those of all tests are told apart."""
