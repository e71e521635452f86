"""``python -m service.commands``."""

import sys

from service.commands import main

sys.exit(main())
