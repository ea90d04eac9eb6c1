"""What goes out: states and commands as a Homie tree and hub documents, orders to the relay, rows to a database."""
