"""The screens in a real browser, looked at by hand: needs Chromium, so it is a command and no test."""
