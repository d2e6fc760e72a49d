"""`python -m booth`"""

from booth.cli import main

main()
