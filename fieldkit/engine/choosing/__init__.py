"""Find the assemblies whose every end fits, and compare them."""
