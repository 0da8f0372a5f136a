"""Corruptions that what is in the files does not tell yet, with the reason. What is told by now leaves this list."""

PASSED: dict[str, str] = {
    "front in 3-D, GLB: two strips' names exchanged": "strips go by the names of their shapes; the colour of the wood is not looked at",
    "front in 3-D, GLB: another wood": "strips go by the names of their shapes; the colour of the wood is not looked at",
    "plan, PDF: a word missing": "words and lines of this sheet are not all held against its drawing",
    "plan, PDF: a word missing further down": "words and lines of this sheet are not all held against its drawing",
    "plan, PDF: the longest line missing": "words and lines of this sheet are not all held against its drawing",
    "plan, PDF: the longest line 1 mm aside": "words and lines of this sheet are not all held against its drawing",
    "job sheet, PDF: a word missing": "words and lines of this sheet are not all held against its drawing",
    "job sheet, PDF: the longest line missing": "words and lines of this sheet are not all held against its drawing",
    "job sheet, PDF: the longest line 1 mm aside": "words and lines of this sheet are not all held against its drawing",
    "front in 3-D, GLB: two strips' shapes exchanged": "strips go by the names of their shapes; the colour of the wood is not looked at",
    "manifest: a wider tolerance in a purpose": "a purpose's own figures are taken as stated",
    "manifest: files in another order": "the order of the list says nothing",
    "manifest: another print of a strip": "what sheets show is known when they are made anew",
    "manifest: another version": "nothing else in the folder says it",
}
