"""From an unknown broker to a starter cabin file: collect every numeric value, guess what it is, write it down."""
