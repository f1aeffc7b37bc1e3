"""PEOPLE: who is in the studio, on which horn, and what they have agreed to."""
