"""Signing in: password, second factor, the brake on guessing, and who may no longer."""
