"""Photos: taken in, drawn anew, shown to those who are signed in."""
