"""What a person types: one module a command, each parses its arguments, asks the rooms below and prints."""
