from freecool.cli.app import main

main()
