"""Bookings, enrolments, sessions, uses, breaches, concerns and audits."""
