"""Guided steps and calculations declared as data; typed text becomes facts here."""
