"""Pure calculation: plain numbers in, an answer with its working out."""
