"""Spreadsheets on their way into a season: opened, understood, tried, and only then written."""
