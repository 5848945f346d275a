"""The command line: parse, call an action, print. Nothing heavy is imported before a command needs it."""
