"""Pictures made from numbers: SVG that we write ourselves, with the same said in words."""
