"""The same program without signal, inside the phone's browser."""
