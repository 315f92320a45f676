"""Say which pipe or tube it is, as chances."""
