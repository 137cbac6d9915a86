"""The command line: words in, words out."""
