"""All that patients and clinicians read: pure functions that return plain text."""
