"""Sheets and reports to print."""
