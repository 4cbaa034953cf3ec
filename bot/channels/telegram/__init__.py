"""Telegram: carries messages, knows no rules."""
