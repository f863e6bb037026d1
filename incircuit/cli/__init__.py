"""The shell: arguments in, text, JSON and exit codes out. No electronics here."""
