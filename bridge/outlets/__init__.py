"""What goes out: a Homie tree and hub documents, orders to the relay, rows to a database, messages to people."""
