"""Values to text, HTML, PDF and drawings.

The PDF library looks for settings of its own in the home folder when it is imported, and fails where the home is no
folder (`HOME=/dev/null`, as service users have it). A sheet must look the same whoever prints it, so an empty module
stands in for those settings before the library looks.
"""

import sys
from types import ModuleType

sys.modules.setdefault("reportlab_mods", ModuleType("reportlab_mods"))
