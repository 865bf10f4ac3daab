"""The invented films of the sample batch: title treatments, billing blocks, designs, and the sheets made for them.

Every name is invented: films, people, companies, printers, places.
"""

from dataclasses import replace

from sample_batch import codes
from sample_batch.layouts import Campaign, lay_out, panel
from sample_batch.sheet import SheetPlan, SmallLine, Title
from sample_batch.story import Design

SALT = Campaign(
    "salt",
    Title(("THE SALT", "MERIDIAN"), "poster", (244, 228, 176), (22, 18, 20), (120, 26, 20)),
    (
        "CORVANE PICTURES ~PRESENTS MARLA QUENT ~AND DORIN HASK",
        "~IN THE SALT MERIDIAN ~WITH IVO TRANT ~AND PELLA MORROW ~AS ~THE CABLE ~GIRL",
        "~PRODUCED ~BY EDDO VANCE ~WRITTEN ~BY T. S. ORRELL ~DIRECTED ~BY KASPAR WREN",
    ),
    "FORTY FATHOMS DOWN,|NO ONE OUTRANKS THE SEA",
)
VARDANE = Campaign(
    "vardane",
    Title(("LAST RAILS", "TO VARDANE"), "condensed", (214, 44, 30), (250, 240, 214), None, 0.12),
    (
        "~A HARBINEL ~FILM BRODY CALLOW ~AND LUISE ANDERMARK",
        "~IN LAST RAILS TO VARDANE ~WITH FITCH MALLORY",
        "~SCREENPLAY ~BY NORA PELL ~DIRECTED ~BY H. G. STRAKER",
    ),
    "ONE TRAIN. TWO GUNS. NO WHISTLE.",
)
CALDERAY = Campaign(
    "calderay",
    Title(("DUST OVER", "CALDERAY"), "brushed", (250, 206, 70), (60, 20, 14), None, 0.1),
    (
        "TESSARY INTERNATIONAL ~PRESENTS REX DORRIMAN",
        "~WITH ANITA SOLVEIRA ~AND OLD TOM HASTWICK ~IN DUST OVER CALDERAY",
        "~MUSIC ~BY PAVEL ORSK ~PRODUCED ~BY LEN MARQUETH ~DIRECTED ~BY JOEL TARRANDER",
    ),
    "THEY FLEW INTO A STORM THAT WAS WAITING FOR THEM",
)
ORBIT = Campaign(
    "orbit",
    Title(("THE GLASS", "ORBIT"), "tall", (236, 244, 250), None, (30, 60, 140), 0.0, 0.0, 0.06),
    (
        "HARBINEL FILMS ~PRESENT ALAN THESSAL ~AND MIRA KOVENT",
        "~IN THE GLASS ORBIT ~WITH DR. ISIDORE PLAME ~AS ~THE VOICE",
        "~STORY ~BY ROLF ANNERLEY ~DIRECTED ~BY CONSTANCE GREEL",
    ),
    "LOOK UP. IT HAS ALREADY SEEN YOU.",
)
HARROW = Campaign(
    "harrow",
    Title(("THE WINDOWS OF", "HARROWGARTH"), "roman-caps", (226, 232, 120), (14, 20, 16), (60, 8, 12)),
    (
        "CORVANE PICTURES ~PRESENTS ESMOND LYLE ~AND THERESE HOLLIN",
        "~IN THE WINDOWS OF HARROWGARTH ~WITH ADA PENWARREN",
        "~FROM ~THE NOVEL ~BY SIBYL CRACE ~DIRECTED ~BY OWEN TREVANNION",
    ),
    "EACH NIGHT ONE MORE OF THEM IS LIT",
)
ORSOLA = Campaign(
    "orsola",
    Title(("A LANTERN", "FOR ORSOLA"), "script", (250, 246, 226), (120, 20, 40)),
    (
        "HARBINEL FILMS ~PRESENT CLARA WINDRUSH ~AND PAUL ESTERHALL",
        "~IN A LANTERN FOR ORSOLA ~DIRECTED ~BY MAURICE BEDALL",
    ),
    "SHE WAITED AT THE WHEEL",
)
VALDORME = Campaign(
    "valdorme",
    Title(("THE ROPE AT", "VALDORME"), "gothic-bold", (200, 30, 34), (250, 250, 246), None, 0.0, 0.25),
    (
        "TESSARY INTERNATIONAL ~PRESENTS STIG HALVARD ~AND JOAN PERRIMAN",
        "~IN THE ROPE AT VALDORME ~DIRECTED ~BY EMIL KANSTATT",
    ),
    "IT HELD FOR THREE OF THEM",
)
MONTARELLO = Campaign(
    "montarello",
    Title(("BANDIERA ROSSA", "A MONTARELLO"), "narrow-bold", (252, 232, 60), (16, 16, 20), None, 0.16),
    (
        "~LA TESSARY ~PRESENTA GUIDO FERRANTESI ~E LISA MORANDELL",
        "~IN BANDIERA ROSSA A MONTARELLO ~CON AROLDO PESCHI",
        "~SOGGETTO ~DI U. CARRADINI ~REGIA ~DI ENNIO VASTELLI",
    ),
    "UN GIRO IN PIÙ PER MORIRE",
)
CAMPAIGNS = (SALT, VARDANE, CALDERAY, ORBIT, HARROW, ORSOLA, VALDORME, MONTARELLO)

DESIGNS = (
    Design("salt-a", "salt", "submarine", 2, 0.7, "The Salt Meridian, style A"),
    Design("salt-b", "salt", "submarine", 1, 0.7, "The Salt Meridian, style B"),
    Design("vardane", "vardane", "western railway", 3, 0.7, "Last Rails to Vardane"),
    Design("calderay", "calderay", "desert air adventure", 3, 0.7, "Dust over Calderay"),
    Design("orbit", "orbit", "deep space", 4, 1.35, "The Glass Orbit, quad"),
    Design("orbit-tall", "orbit", "deep space", 3, 0.62, "The Glass Orbit, daybill"),
    Design("harrow", "harrow", "haunted house", 1, 0.7, "The Windows of Harrowgarth"),
    Design("harrow-es", "harrow", "haunted house", 3, 0.7, "The Windows of Harrowgarth, Spanish design"),
    Design("orsola", "orsola", "romance at the fair", 2, 0.75, "A Lantern for Orsola"),
    Design("valdorme", "valdorme", "alpine rescue", 2, 0.66, "The Rope at Valdorme"),
    Design("montarello", "montarello", "racing cars", 3, 0.7, "Bandiera rossa a Montarello"),
)


def sheet_plans() -> dict[str, SheetPlan]:
    """Return every sheet of the sample by a short name."""
    shelf: dict[str, SheetPlan] = {}
    corvane, tessary = "Corvane Pictures Inc.", "Tessary International Inc."
    us = codes.origin("Litho in U.S.A.", "USA")
    shelf["salt-us-a"] = lay_out(
        "us_1sh_old",
        SALT,
        (codes.us_code("64/118"), us, codes.notice(1964, corvane), codes.style("A", "bottom-left/1", 3.2)),
        window=(0.5, 0.47, 0.96),
    )
    shelf["salt-us-b"] = lay_out(
        "us_1sh_old",
        SALT,
        (codes.us_code("64/118"), us, codes.notice(1964, corvane), codes.style("B", "bottom-left/1", 3.2)),
        window=(0.5, 0.5, 1.0),
    )
    shelf["salt-insert"] = lay_out(
        "us_insert",
        SALT,
        (codes.us_code("64/118", cap_mm=2.6), codes.notice(1964, corvane, cap_mm=2.4)),
        window=(0.56, 0.5, 0.62),
    )
    shelf["salt-uk"] = lay_out(
        "uk_1sh",
        SALT,
        (codes.uk_imprint("Penhallard & Voce Ltd.", "London N.7"),),
        codes.uk_certificate("X", "circle"),
        window=(0.55, 0.53, 0.92),
    )
    shelf["vardane-uk"] = lay_out(
        "uk_dcrown",
        VARDANE,
        (
            codes.uk_imprint("Thornquay Lithographic Co. Ltd", "Bristol", cap_mm=2.6),
            replace(codes.notice(1958, "Harbinel Films", "art-right", 2.0), light=True),
        ),
        codes.uk_certificate("A", "triangle", 3.2),
        window=(0.5, 0.48, 1.0),
    )
    vardane_de = replace(VARDANE.title, lines=("LETZTER ZUG", "NACH VARDANE"))
    shelf["vardane-de"] = lay_out(
        "de_a1",
        VARDANE,
        (
            codes.de_druck("Kesselroth KG", "Hamburg"),
            SmallLine("Im Verleih der Harbinel-Film", place="bottom-right", cap_mm=2.4),
        ),
        codes.de_fsk(12),
        title=vardane_de,
        billing=(
            "BRODY CALLOW ~UND LUISE ANDERMARK ~IN LETZTER ZUG NACH VARDANE",
            "~BUCH NORA PELL ~REGIE H. G. STRAKER",
        ),
        tagline="EIN ZUG. ZWEI GEWEHRE. KEIN SIGNAL.",
        window=(0.5, 0.52, 0.9),
        certificate_at="right",
    )
    shelf["calderay-us"] = lay_out(
        "us_1sh_old",
        CALDERAY,
        (codes.us_code("61/204"), codes.origin("LITHO IN U.S.A.", "USA"), codes.notice(1961, tessary)),
        window=(0.5, 0.5, 0.98),
    )
    shelf["calderay-re"] = panel(
        lay_out(
            "us_1sh_old",
            CALDERAY,
            (
                codes.us_code("R69/118"),
                codes.origin("LITHO IN U.S.A.", "USA"),
                codes.notice(1961, tessary, form="Copyright {roman} {owner}"),
            ),
            codes.us_rating("G"),
            window=(0.5, 0.45, 1.0),
            tint=(0.97, 0.80, 0.62),
            tagline="IT RIDES AGAIN!",
            certificate_at="right",
        ),
        120,
        (0.16, 0.13, 0.12),
    )
    polvere = replace(CALDERAY.title, lines=("POLVERE SU", "CALDERAY"))
    shelf["calderay-it"] = lay_out(
        "it_loc",
        CALDERAY,
        (codes.it_visto("40118"), codes.origin("Printed in Italy", "ITALY", "bottom-left", 2.4)),
        codes.it_vm(14),
        title=polvere,
        billing=("~LA TESSARY ~PRESENTA REX DORRIMAN ~CON ANITA SOLVEIRA", "~REGIA ~DI JOEL TARRANDER"),
        tagline="",
        window=(0.42, 0.5, 0.66),
    )
    shelf["orbit-quad"] = lay_out(
        "uk_quad",
        ORBIT,
        (codes.uk_imprint("Marrable & Tolcarne Ltd.", "Leeds", "left-side", 3.0),),
        codes.uk_certificate("A", "circle", 4.4),
        window=(0.5, 0.5, 0.98),
        title_at=(0.72, 0.16),
        title_width=0.46,
        tag_at=0.9,
        tagline="",
    )
    shelf["orbit-daybill"] = lay_out(
        "au_daybill",
        ORBIT,
        (codes.au_printer("Wirrabilla Press", "Sydney"),),
        window=(0.5, 0.5, 1.0),
        title_width=0.84,
    )
    shelf["harrow-uk"] = lay_out(
        "uk_1sh",
        HARROW,
        (
            codes.uk_imprint("Penhallard & Voce Ltd.", "London N.7"),
            codes.notice(1971, corvane, "bottom-right"),
        ),
        codes.uk_certificate("X", "box"),
        window=(0.5, 0.5, 0.97),
    )
    shelf["harrow-reprint"] = replace(
        lay_out(
            "reprint",
            HARROW,
            (
                codes.uk_imprint("Penhallard & Voce Ltd.", "London N.7", cap_mm=2.65),
                codes.notice(1971, corvane, "bottom-right", 2.5),
            ),
            codes.uk_certificate("X", "box", 3.55),
            window=(0.5, 0.5, 0.99),
        ),
        paper=(0.985, 0.988, 0.985),
    )
    fenetres = replace(HARROW.title, lines=("LES FENÊTRES", "DE HARROWGARTH"))
    shelf["harrow-fr"] = lay_out(
        "fr_moyenne",
        HARROW,
        (
            codes.fr_imp("Brossardet", "Paris"),
            codes.fr_depot("Dépôt légal 4e trimestre 1971", 1971),
            codes.fr_visa("38 512"),
        ),
        codes.fr_age(18),
        title=fenetres,
        billing=(
            "CORVANE PICTURES ~PRÉSENTE ESMOND LYLE ~ET THERESE HOLLIN",
            "~D'APRÈS ~LE ROMAN ~DE SIBYL CRACE ~RÉALISÉ ~PAR OWEN TREVANNION",
        ),
        tagline="CHAQUE NUIT, UNE DE PLUS S'ALLUME",
        window=(0.5, 0.44, 0.92),
        certificate_at="top",
    )
    ventanas = replace(HARROW.title, lines=("LAS VENTANAS DE", "HARROWGARTH"))
    shelf["harrow-es"] = panel(
        lay_out(
            "es_70100",
            HARROW,
            (
                codes.es_deposit("B", "31.207", 1972),
                SmallLine("Distribuida por Corvane Española", place="bottom-left", cap_mm=2.4),
            ),
            title=ventanas,
            billing=("ESMOND LYLE ~Y THERESE HOLLIN", "~DIRIGIDA ~POR OWEN TREVANNION"),
            tagline="CADA NOCHE SE ENCIENDE UNA MÁS",
            window=(0.5, 0.5, 1.0),
        ),
        95,
        (0.86, 0.80, 0.62),
    )
    shelf["orsola-uk"] = lay_out(
        "uk_crown",
        ORSOLA,
        (codes.uk_imprint("A. Dunmarrow & Sons", "Glasgow", cap_mm=2.5, land="Scotland"),),
        codes.uk_certificate("A", "word", 3.0),
        window=(0.5, 0.5, 1.0),
    )
    shelf["valdorme-wc"] = lay_out(
        "us_wc",
        VALDORME,
        (codes.us_code("56/77", cap_mm=2.5), codes.notice(1956, tessary, cap_mm=2.4)),
        window=(0.5, 0.42, 1.0),
        paper=(0.93, 0.925, 0.90),
    )
    shelf["valdorme-half"] = lay_out(
        "us_half",
        VALDORME,
        (codes.us_code("56/77"), us, codes.notice(1956, tessary, form="COPYRIGHT {roman} {owner}")),
        window=(0.5, 0.36, 1.0),
        title_at=(0.5, 0.78),
        tagline="",
    )
    shelf["montarello-2f"] = lay_out(
        "it_2f",
        MONTARELLO,
        (
            codes.it_visto("47803", cap_mm=4.0),
            codes.origin("Printed in Italy", "ITALY", "bottom-left", 3.6),
            codes.notice(1966, "Tessary S.p.A.", "bottom-centre", 2.6),
        ),
        codes.it_vm(14, 5.0),
        window=(0.5, 0.5, 1.0),
    )
    return shelf
