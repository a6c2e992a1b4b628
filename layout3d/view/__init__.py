"""The window: a scene seen, moved, judged and saved; it reads what draws, places and checks."""
