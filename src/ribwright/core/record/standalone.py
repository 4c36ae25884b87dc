"""The script that checks an exported record without this program; it is printed in the evidence pack.

Standard library only, and without a single indented line: text taken out of a PDF loses its spaces.
"""

from __future__ import annotations

SCRIPT = r"""
import hashlib, json, os, sys
folder = sys.argv[1] if len(sys.argv) > 1 else "."
mark = lambda content: hashlib.sha256(content).hexdigest()
read = lambda name: open(os.path.join(folder, name), "rb").read()
entries = read("entries.jsonl").split(b"\n")[:-1]
marks = ["0" * 64] + [mark(e) for e in entries]
follows = lambda n, e: b'"previous":"%s"' % marks[n - 1].encode() in e and b'"seq":"%d"' % n in e
bad = ["entry %d does not follow the one before it" % n for n, e in enumerate(entries, 1) if not follows(n, e)]
seal = read("seal.txt").decode()
sealed = marks[-1] in seal and str(len(entries)) in seal
bad += [] if sealed else ["the last entry, %d, is not the one that was sealed" % len(entries)]
bodies = [json.loads(e).get("body") or {} for e in entries if b'"kind":"photo"' in e] if not bad else []
named = {b[k] for b in bodies for k in ("digest", "report", "thumb") if b.get(k)}
hidden = {b["digest"] for b in bodies if b.get("position") == "yes"}
there = os.listdir(os.path.join(folder, "photos"))
bad += ["photo %s was changed" % n[:12] for n in there if mark(read(os.path.join("photos", n))) != n]
bad += ["photo %s is missing" % n[:12] for n in sorted(named - hidden - set(there))]
print("\n".join(bad) or "%d entries, each in its place. Seal %d-%s" % (len(entries), len(entries), marks[-1]))
sys.exit(1 if bad else 0)
""".strip("\n")
