"""German texts of the doubts: one for each key of ``caveats.TEXTS`` (a test sees to that)."""

from __future__ import annotations

from facemark.caveats import CaveatText


def _text(meaning: str, matters: str, remedy: str) -> CaveatText:
    return CaveatText(meaning=meaning, matters=matters, remedy=remedy)


CAVEATS: dict[str, CaveatText] = {
    # --- scale and camera ---
    "scale_from_face_length": _text(
        "Der Maßstab kommt von der Länge der Schlagfläche, nicht von einem Gegenstand im Foto.",
        "Jeder Millimeter ist so gut wie diese Länge, und die Neigung der Kamera ist nicht bekannt.",
        "Lege die gedruckte Karte oder eine ID-1-Karte neben die Schlagfläche.",
    ),
    "scale_from_ball": _text(
        "Der Maßstab kommt von einem Ball, der näher oder weiter weg liegen kann als die Schlagfläche.",
        "Jeder Zentimeter Tiefe ändert auf Armlänge alle Abstände um etwa 3 %; die Neigung ist unbekannt.",
        "Halte den Ball an die Schlagfläche, oder nimm die gedruckte Karte.",
    ),
    "camera_tilted": _text(
        "Die Kamera sah schräg auf die Schlagfläche.",
        "Abstände längs der Neigung werden korrigiert; eine falsche Ebene kostet um so mehr, je schräger.",
        "Halte das Telefon parallel zur Schlagfläche.",
    ),
    "no_focal_length": _text(
        "Das Foto nennt keine Brennweite; eine übliche Telefonkamera wurde angenommen.",
        "Wölbung und Tiefe der Schlagfläche werden weniger genau korrigiert.",
        "Schicke die Originaldatei statt einer Kopie aus dem Chat.",
    ),
    "scales_disagree": _text(
        "Zwei Maßstäbe im Foto widersprechen sich.",
        "Einer liegt nicht in der Ebene der Schlagfläche, oder seine Größe ist falsch angegeben.",
        "Lass nur einen im Foto, in der Ebene der Schlagfläche, und prüfe seine Größe mit dem Lineal.",
    ),
    "sheet_unchecked": _text(
        "Niemand hat die 100-mm-Linie des gedruckten Blattes mit dem Lineal geprüft.",
        "Drucker liegen bis zu 1 oder 2 % daneben, und alle Abstände mit ihnen.",
        "Miss die Linie einmal und gib ihre Länge an.",
    ),
    "scale_bent": _text(
        "Die Marken liegen nicht in einer Ebene.",
        "Der Maßstab, der von ihnen auf die Schlagfläche übertragen wird, ist weniger sicher.",
        "Klebe das Blatt auf festen Karton und halte es eben.",
    ),
    "photo_mirrored": _text(
        "Die Marken sind nur im Spiegel lesbar: Das Foto ist seitenverkehrt.",
        "Spitze und Ferse folgen dem Schaft, aber zu sehen ist ein Schläger für die andere Hand.",
        "Schalte die Selfie-Spiegelung aus.",
    ),
    "low_resolution": _text(
        "Die Schlagfläche ist klein im Foto.",
        "Ränder und Abdrücke werden weniger genau gefunden.",
        "Geh näher heran, oder schicke das Original statt einer Kopie aus dem Chat.",
    ),
    # --- face ---
    "hand_from_photo": _text(
        "Niemand hat die Spielhand angegeben; die Seite des Schaftes im Foto wurde verwendet.",
        "Ein gespiegeltes Selfie vertauscht links und rechts im Flug; Spitze und Ferse bleiben richtig.",
        "Gib --right oder --left an.",
    ),
    "hand_contradicts": _text(
        "Das Foto zeigt einen Schläger für die andere Hand als angegeben.",
        "Das Foto kann gespiegelt sein. Spitze und Ferse folgen dem Schaft; links und rechts der Angabe.",
        "Schalte die Selfie-Spiegelung aus, oder berichtige die Hand.",
    ),
    "toe_side_assumed": _text(
        "Der Schaft war nicht zu sehen; die Seite der Spitze folgt aus der Spielhand bei Sohle unten.",
        "Steht das Foto auf dem Kopf oder ist es gespiegelt, sind Spitze und Ferse vertauscht.",
        "Lass Hosel und ein Stück Schaft im Bild.",
    ),
    "turn_uncertain": _text(
        "Es wurden keine Rillen gefunden, die zeigen, was auf der Schlagfläche waagrecht ist.",
        "Spitze-Ferse und hoch-tief mischen sich ein wenig: etwa 0,35 mm bei 20 mm je Grad.",
        "Fotografiere so, dass die Rillen zu sehen sind.",
    ),
    "face_edge_uncertain": _text(
        "Teile des Randes der Schlagfläche waren nicht klar zu sehen.",
        "Die Flächenmitte, und mit ihr jede Lage, kann verschoben sein.",
        "Nimm einen ruhigen, dunklen Hintergrund und gleichmäßiges Licht; wische Krone und Sohle ab.",
    ),
    "face_net_missing": _text(
        "Der Umriss wurde ohne den gelernten Finder bestimmt.",
        "Schwierige Hintergründe täuschen den einfachen Finder häufiger.",
        "Installiere facemark neu, mit seinen Gewichten.",
    ),
    # --- marks ---
    "marks_touch": _text(
        "Abdrücke liegen übereinander.",
        "Einzelne Lagen sind weniger sicher; manche Bälle können ganz verdeckt sein.",
        "Fotografiere nach je drei oder vier Bällen, dann wischen und neu sprühen.",
    ),
    "marks_unseparated": _text(
        "Die Abdrücke lassen sich nicht alle trennen; Mitte und Streuung kommen vom Pulver im Ganzen.",
        "Die Mitte ist gut, die einzelnen Bälle sind es nicht.",
        "Fotografiere nach je drei oder vier Bällen.",
    ),
    "mark_at_edge": _text(
        "Ein Abdruck ist vom Rand der Schlagfläche abgeschnitten.",
        "Seine Mitte ist aus dem sichtbaren Teil geschätzt.",
        "Verlass dich auf diesen Abdruck weniger.",
    ),
    "count_differs": _text(
        "Das Foto spricht für eine andere Zahl von Bällen als angegeben.",
        "Bälle können verdeckt sein, die Fläche verfehlt haben, oder die Zahl stimmt nicht.",
        "Prüfe die Zahl der Bälle.",
    ),
    "check_disagrees": _text(
        "Zwei unabhängige Arten, die Abdrücke zu lesen, widersprechen sich.",
        "Lagen können um mehr als angegeben falsch sein.",
        "Mach ein zweites Foto in weicherem Licht.",
    ),
    "marks_net_missing": _text(
        "Die Abdrücke wurden mit dem einfachen Verfahren getrennt, ohne den gelernten Trenner.",
        "Überlappende Abdrücke werden weniger gut gefunden.",
        "Installiere facemark neu, mit seinen Gewichten.",
    ),
    "glare": _text(
        "Ein Teil der Schlagfläche glänzt.",
        "Abdrücke unter dem Glanz sind nicht zu sehen.",
        "Drehe die Fläche vom Licht weg, oder gib ihr Schatten.",
    ),
    "thin_powder": _text(
        "Das Pulver ist dünn oder fleckig.",
        "Blanke Stellen sehen wie Abdrücke aus, und Abdrücke wie blanke Stellen.",
        "Wischen, gleichmäßig sprühen und trocknen lassen.",
    ),
    # --- series of photos ---
    "ball_left_no_mark": _text(
        "Ein Ball hinterließ keinen Abdruck, der sich von den älteren unterscheiden lässt.",
        "Er traf vielleicht, wo das Pulver schon fehlte, oder verfehlte die Fläche; er fehlt im Trefferbild.",
        "Nach je drei oder vier Bällen wischen und neu sprühen.",
    ),
    "resprayed": _text(
        "Zwischen zwei Fotos wurde neu gesprüht.",
        "Abdrücke nach der neuen Schicht werden für sich gelesen; nichts geht verloren.",
        "Nichts zu tun.",
    ),
    "photos_misaligned": _text(
        "Zwei Fotos der Serie ließen sich nicht genau übereinanderlegen.",
        "Alte Ränder können wie neue Abdrücke aussehen, und neue werden weniger genau verortet.",
        "Halte das Telefon für alle Fotos einer Serie an derselben Stelle.",
    ),
    "photo_left_out": _text(
        "Ein früheres Foto der Serie war nicht messbar und blieb außer Betracht.",
        "Wie viele seiner Bälle im nächsten Foto noch zu sehen sind, ist unbekannt, ebenso ihre Reihenfolge.",
        "Prüfe jedes Foto sofort (facemark check), solange die Abdrücke noch dieselben sind.",
    ),
    # --- by hand ---
    "corrected_by_hand": _text(
        "Diese Lesung wurde von Hand berichtigt.",
        "Ein von Hand gezeigter Ort ist auf etwa 3 mm bekannt; die rohe Lesung wird daneben aufbewahrt.",
        "Nichts zu tun; ohne die Berichtigungen ist die rohe Lesung zu sehen.",
    ),
    # --- explanation ---
    "few_strikes": _text(
        "Es sind wenige Treffer.",
        "Die Mitte kann sich mit den nächsten Bällen um Millimeter verschieben.",
        "Schlage mehr Bälle, bevor du etwas änderst.",
    ),
    "sweet_spot_assumed": _text(
        "Niemand hat den Sweetspot dieses Kopfes gemessen; eine typische Lage wurde verwendet.",
        "Köpfe unterscheiden sich um einige Millimeter, und alle Lagen verschieben sich mit.",
        "Balanciere den Kopf auf einer Spitze, markiere den Punkt und trage ihn in die Schlägerdatei ein.",
    ),
    "sweet_spot_from_mark": _text(
        "Die aufgedruckte Markierung wurde als Sweetspot genommen.",
        "Sie zeigt die Mitte der Fläche; der Balancepunkt liegt bis zu einigen Millimetern daneben.",
        "Balanciere den Kopf auf einer Spitze und trage den Punkt in die Schlägerdatei ein.",
    ),
    "centre_mark_not_found": _text(
        "Nahe der Flächenmitte wurde keine aufgedruckte Markierung sicher gefunden.",
        "Der Sweetspot wurde stattdessen nach dem Umriss angenommen.",
        "Wische nur die Markierung frei, oder lass --centre-mark weg.",
    ),
    "club_assumed": _text(
        "Typische Werte stehen für Zahlen dieses Kopfes, die niemand gemessen hat.",
        "Die Kurve eines Treffers neben der Mitte ist dann nur grob bekannt.",
        "Miss Wölbung und Sweetspot zu Hause (siehe docs/how-to/describe-your-club.md).",
    ),
    "speed_assumed": _text(
        "Niemand hat gesagt, wie schnell der Schläger war; eine typische Geschwindigkeit wurde verwendet.",
        "Start, Kurve und Länge ändern sich mit der Geschwindigkeit.",
        "Gib --speed an.",
    ),
    "no_shots_told": _text(
        "Über den Flug der Bälle wurde nichts notiert.",
        "Schlagfläche und Schwungbahn lassen sich nicht vom Treffpunkt trennen.",
        "Notiere Start und Kurve jedes Balls.",
    ),
    "wind_not_noted": _text(
        "Über den Wind wurde nichts notiert.",
        "Schon leichter Seitenwind krümmt einen Drive um Meter; die Bahn ist dann weniger gut bekannt.",
        "Notiere den Wind, oder dass es windstill war.",
    ),
    "outside_model_range": _text(
        "Treffer oder Geschwindigkeit liegen außerhalb dessen, wofür das Modell geprüft wurde.",
        "Die Zahlen können um mehr als angegeben falsch sein.",
        "Nimm sie nur als Richtung.",
    ),
    # --- pattern and comparison ---
    "mark_stands_apart": _text(
        "Ein Abdruck liegt weiter von den anderen weg, als eine Gruppe erklärt.",
        "Er kann missglückt sein oder gar kein Treffer; er zieht die Mitte und weitet die Streuung.",
        "Sieh ihn dir im Bild an. Er bleibt gezählt; das Wort ohne ihn steht neben dem Wort mit ihm.",
    ),
    "mark_off_face": _text(
        "Ein Treffer liegt jenseits des Randes jeder Schlagfläche dieser Art.",
        "Es kann ein Tippfehler sein, eine falsche Einheit, oder ein Ball vom Hosel.",
        "Prüfe die Zahl. Sie bleibt gezählt, bis du sie herausnimmst.",
    ),
    "same_place_twice": _text(
        "Zwei Treffer haben genau dieselbe Lage.",
        "Wurde ein Abdruck zweimal notiert, sieht die Gruppe enger und sicherer aus, als sie ist.",
        "Prüfe die Liste, und lass den zweiten weg, wenn er eine Kopie ist.",
    ),
    "marks_in_line": _text(
        "Alle Treffer liegen an einer Stelle oder auf einer Linie.",
        "In einer Richtung gibt es keine Streuung, nach der zu urteilen wäre; dort wird nichts behauptet.",
        "Miss bei jedem Ball Spitze-Ferse und hoch-tief.",
    ),
    "spread_below_reading": _text(
        "Die Abdrücke werden nicht genauer gelesen, als sich die Treffer unterscheiden.",
        "Die Streuung der Treffer ist unsicher; null ist sie nie.",
        "Fotografiere näher und in weichem Licht, nach je drei oder vier Bällen.",
    ),
    "word_hangs_on_mark": _text(
        "Die Aussage ändert sich, wenn die nur wahrscheinlichen Abdrücke wegbleiben.",
        "Ein Wort, das an einem unsicheren Abdruck hängt, ist nicht geklärt.",
        "Schlage ein paar Bälle mehr, und fotografiere nach je drei oder vier.",
    ),
    "sweet_spot_limits": _text(
        "Was allen Bällen gemeinsam ist, vor allem die Lage des Sweetspots, ist zu grob bekannt.",
        "Mehr Bälle klären diese Richtung nicht.",
        "Miss den Sweetspot und trage ihn in die Schlägerdatei ein.",
    ),
    "balls_unseen": _text(
        "Weniger Treffer als geschlagene Bälle.",
        "Bälle, die die Fläche verfehlten, fehlen in der Streuung; sie ist dann mindestens so groß.",
        "Sag, wie viele die Fläche verfehlten; fotografiere nach je drei oder vier Bällen.",
    ),
    "conditions_differ": _text(
        "Die Serien wurden nicht unter denselben Bedingungen geschlagen.",
        "Ein Unterschied kann von den Bedingungen kommen statt vom Schläger oder vom Spieler.",
        "Wiederhole mit gleichem Schläger, Krafteinsatz, Tee und gleichem Weg zum Sweetspot.",
    ),
    "conditions_unknown": _text(
        "Es wurde nicht notiert, ob die Serien unter denselben Bedingungen geschlagen wurden.",
        "Ein Unterschied kann von Krafteinsatz oder Teehöhe kommen.",
        "Notiere zu jeder Serie Schläger, Krafteinsatz und Teehöhe.",
    ),
    "sweet_spot_methods_differ": _text(
        "Die Sweetspots wurden auf verschiedene Weise gefunden.",
        "Mitten, von ihnen aus gemessen, lassen sich nicht vergleichen; Streuungen schon.",
        "Miss den Sweetspot jedes Schlägers auf dieselbe Weise.",
    ),
    "counts_unequal": _text(
        "Die Serien haben sehr verschieden viele Bälle.",
        "Die kleinste Serie entscheidet, was sich sagen lässt.",
        "Schlage mit jedem gleich viele.",
    ),
    "drift_in_set": _text(
        "Die Treffer wandern mit der Ballnummer.",
        "Müdigkeit oder Warmwerden mischt sich in den Vergleich.",
        "Ruhe dich aus, nimm die gemischte Reihenfolge von facemark compare --plan, und wiederhole.",
    ),
    "bad_day_first": _text(
        "Die erste Serie ist die schlechteste der Reihe.",
        "Eine Reihe, die nach einem schlechten Tag beginnt, wird von allein besser.",
        "Lass die erste Serie im Verlauf weg (--started-bad), und zähle weiter.",
    ),
    "mark_at_line": _text(
        "Ein Ball liegt zu nah an der Linie, oder wurde geschlagen, aber nicht gesehen.",
        "Die Entscheidung kann an ihm hängen.",
        "Schlage noch einen Block, oder miss diesen Ball noch einmal.",
    ),
    "sweet_spot_untold": _text(
        "Niemand sagte, wie gut der Sweetspot dieser Treffer bekannt ist; er wurde als genau genommen.",
        "Ein nach Augenmaß gefundener Sweetspot kann 2 mm daneben liegen, und die Mitte mit ihm.",
        "Gib mit --sweet-err eine Standardabweichung in mm an.",
    ),
    "gate_rough": _text(
        "Das Tor ruht auf wenigen Bällen.",
        "Es können mehr oder weniger als 7 bis 9 von 10 hindurchgehen.",
        "Zähle mit; wenn zwanzig Bälle gelesen sind, passe es neu an.",
    ),
    "gate_effort": _text(
        "Das Tor passt zu Bällen, die mit anderer Kraft geschlagen wurden als der Block.",
        "Langsame Schwünge liegen meist enger: Das Tor kann anfangs leicht sein.",
        "Sage --photo-effort, und lies zehn Abdrücke bei der Kraft des Blocks, bevor du es enger stellst.",
    ),
    "bottle_by_eye": _text(
        "Der Platz der Flasche folgt einem üblichen Schwungkreis.",
        "Er stimmt auf etwa 2 Grad der Schwungbahn.",
        "Schwinge langsam ohne Ball, und rücke die Flasche hinaus, bis der Kopf eben vorbeikommt.",
    ),
}
