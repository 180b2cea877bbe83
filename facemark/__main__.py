"""python -m facemark"""

from facemark.tell.cli import main

main()
