"""What people type becomes numbers in one unit: grammar, amounts, moments, requests."""
