"""Python as a server has it, for the programs that tests start: without what only tests install.

Libraries of ours import these where they are there, which takes half of a start.
"""

import sys

sys.modules.update(dict.fromkeys(("numpy", "pandas", "uncertainties")))
