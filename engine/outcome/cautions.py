"""The usual cautions, said on the page, on the setup sheet and in every program's header.

General pointers, no legal advice: local codes, licensed practice and the makers' instructions stand above them.
Sources: the regulations and guidance that each line names; lines without one are common practice.
"""

__all__ = ["CAUTIONS", "HEADER_CAUTIONS"]

CAUTIONS: tuple[tuple[str, str, str], ...] = (
    (
        "Eyes",
        "Wear eye protection: chips and splinters of shell, glass and wood fly.",
        "OSHA 29 CFR 1910.133; ANSI Z87.1",
    ),
    (
        "Rotating work",
        "No gloves, loose clothing, jewellery or loose hair. Stop the spindle and the rotary before touching anything.",
        "OSHA 29 CFR 1910.212; HSE L22 (PUWER 1998)",
    ),
    (
        "Dust",
        (
            "Cut wet or with extraction and do not sweep dry. Stone and ceramic dust holds crystalline silica; "
            "wood and shell dust harm the lungs too."
        ),
        "OSHA 29 CFR 1910.1053; HSE EH40/2005",
    ),
    (
        "Water and mains",
        "Keep coolant away from electrics, use a residual-current device, and isolate before cleaning.",
        "HSE HSG85",
    ),
    (
        "Raw eggs",
        (
            "Shells can carry Salmonella: blow out, rinse and dry first, wash hands, tools and bench. "
            "The contents are not food."
        ),
        "FDA and CDC egg-safety advice",
    ),
    (
        "Brittle blanks",
        "Glass and shell can burst: clamp lightly, never probe hard, never cut tempered glass.",
        "common practice",
    ),
    (
        "Holding",
        (
            "The proof knows the jaws, centres and steadies that the job names, and of the tool, its collet and the "
            "spindle's nose what is stated: keep the rest, and the carriage, clear yourself."
        ),
        "",
    ),
    (
        "First run",
        "Run the air program and the walk first, and keep a hand on the stop. The rotary may unwind several turns.",
        "common practice",
    ),
    (
        "Follow local codes",
        "Follow local codes, licensed practice and the makers' instructions; they stand above this page.",
        "",
    ),
)

HEADER_CAUTIONS: tuple[str, ...] = (
    "eye protection. No gloves or loose clothing near turning work. Stop before touching",
    "cut wet or with extraction. Clamp glass and shell lightly. Raw eggs can carry Salmonella",
    "keep collet, spindle nose and carriage clear: the proof knows only what is stated of them",
    "run the air program and the walk first. Keep a hand on the stop",
    "follow local codes, licensed practice and the makers' instructions",
)
