"""Many cases: comparing them, judging the comparison, keeping it on disk."""
