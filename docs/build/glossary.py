"""The page of terms, written from the glossary of the package.

``python docs/build/glossary.py > docs/glossary.md`` writes it.
"""

from __future__ import annotations

from freecool.cases.glossary import GLOSSARY

INTRO = """# Glossary

<!-- Written by `python docs/build/glossary.py`; change freecool/cases/glossary.py, not this page. -->

A sentence each; `freecool glossary TERM` tells them too. How hours are counted to the letter is told in
[how it works](how-it-works.md#words), and what a quantity is called at each door in [names](names.md).

"""


def glossary_page() -> str:
    """The page as Markdown."""
    return INTRO + "".join(f"- **{term}**: {sentence}\n" for term, sentence in GLOSSARY.items())


if __name__ == "__main__":
    print(glossary_page(), end="")
