"""What all tests share. Data folder and settings: `tests.settings`."""
