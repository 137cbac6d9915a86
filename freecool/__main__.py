from freecool.cli import main

main()
