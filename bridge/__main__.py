"""`python -m bridge` is `revival`."""

import sys

from bridge.cli import main

sys.exit(main())
