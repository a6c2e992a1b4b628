"""The commands, one file each: parse, call, print, exit code. Everything heavy is imported inside them."""
