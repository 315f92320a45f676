"""Plan a pressure test and judge what the gauge said."""
