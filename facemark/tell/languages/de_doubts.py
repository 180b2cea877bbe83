"""German texts of the doubts: one for each key of ``caveats.TEXTS`` (a test sees to that)."""

from __future__ import annotations

from facemark.caveats import CaveatText


def _text(meaning: str, matters: str, remedy: str) -> CaveatText:
    return CaveatText(meaning=meaning, matters=matters, remedy=remedy)


CAVEATS: dict[str, CaveatText] = {
    # --- scale and camera ---
    "scale_from_face_length": _text(
        "Der Maßstab beruht auf der Länge der Schlagfläche, nicht auf einem Gegenstand im Foto.",
        "Jeder Millimeter ist nur so gut wie diese Länge, und die Neigung der Kamera ist nicht bekannt.",
        "Lege die gedruckte Karte oder eine ID-1-Karte neben die Schlagfläche.",
    ),
    "scale_from_ball": _text(
        "Der Maßstab beruht auf einem Ball, der näher oder weiter weg liegen kann als die Schlagfläche.",
        "Jeder Zentimeter Tiefe ändert auf Armlänge alle Abstände um etwa 3 %; die Neigung ist unbekannt.",
        "Halte den Ball an die Schlagfläche, oder nimm die gedruckte Karte.",
    ),
    "camera_tilted": _text(
        "Die Kamera sah schräg auf die Schlagfläche.",
        "Abstände entlang der Neigung werden korrigiert; je schräger, desto mehr schadet eine falsche Ebene.",
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
        "Lass nur einen davon im Bild, in der Ebene der Schlagfläche, und prüfe seine Größe mit dem Lineal.",
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
        "Spitze und Ferse richten sich nach dem Schaft, aber zu sehen ist ein Schläger für die andere Hand.",
        "Schalte die Spiegelung der Selfie-Kamera aus.",
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
        "Vielleicht ist das Foto gespiegelt. Spitze und Ferse folgen dem Schaft, links/rechts der Angabe.",
        "Schalte die Spiegelung der Selfie-Kamera aus, oder berichtige die Hand.",
    ),
    "toe_side_assumed": _text(
        "Der Schaft war nicht zu sehen; die Seite der Spitze folgt aus der Spielhand bei Sohle unten.",
        "Steht das Foto auf dem Kopf oder ist es gespiegelt, sind Spitze und Ferse vertauscht.",
        "Lass Hosel und ein Stück Schaft im Bild.",
    ),
    "turn_uncertain": _text(
        "Es wurden keine Rillen gefunden, die zeigen, was auf der Schlagfläche waagerecht ist.",
        "Spitze-Ferse und hoch-tief mischen sich ein wenig: etwa 0,35 mm bei 20 mm je Grad.",
        "Fotografiere so, dass die Rillen zu sehen sind.",
    ),
    "face_edge_uncertain": _text(
        "Teile des Randes der Schlagfläche waren nicht klar zu sehen.",
        "Die Mitte der Schlagfläche, und mit ihr jede Lage, kann verschoben sein.",
        "Nimm einen ruhigen, dunklen Hintergrund und gleichmäßiges Licht; wische Krone und Sohle ab.",
    ),
    "face_net_missing": _text(
        "Der Umriss wurde nur mit dem einfachen Verfahren bestimmt, ohne das gelernte.",
        "Schwierige Hintergründe täuschen das einfache Verfahren häufiger.",
        "Installiere facemark neu, mit seinen Gewichten.",
    ),
    # --- marks ---
    "marks_touch": _text(
        "Abdrücke liegen übereinander.",
        "Einzelne Lagen sind weniger sicher; manche Bälle können ganz verdeckt sein.",
        "Fotografiere nach je drei oder vier Bällen, dann wischen und neu sprühen.",
    ),
    "marks_unseparated": _text(
        "Die Abdrücke lassen sich nicht alle trennen; Mitte und Streuung kommen vom Puder im Ganzen.",
        "Die Mitte ist gut bekannt, die einzelnen Bälle sind es nicht.",
        "Fotografiere nach je drei oder vier Bällen.",
    ),
    "mark_at_edge": _text(
        "Ein Abdruck ist vom Rand der Schlagfläche abgeschnitten.",
        "Seine Mitte ist aus dem sichtbaren Teil geschätzt.",
        "Verlass dich auf einen Abdruck am Rand weniger als auf die anderen.",
    ),
    "count_differs": _text(
        "Das Foto spricht für eine andere Zahl von Bällen als angegeben.",
        "Bälle können verdeckt sein, die Fläche verfehlt haben, oder die Zahl stimmt nicht.",
        "Prüfe die Zahl der Bälle.",
    ),
    "check_disagrees": _text(
        "Zwei unabhängige Verfahren lesen die Abdrücke verschieden.",
        "Lagen können um mehr als angegeben falsch sein.",
        "Mach ein zweites Foto in weicherem Licht.",
    ),
    "marks_net_missing": _text(
        "Die Abdrücke wurden nur mit dem einfachen Verfahren getrennt, ohne das gelernte.",
        "Überlappende Abdrücke werden weniger gut gefunden.",
        "Installiere facemark neu, mit seinen Gewichten.",
    ),
    "glare": _text(
        "Ein Teil der Schlagfläche glänzt.",
        "Abdrücke unter dem Glanz sind nicht zu sehen.",
        "Drehe die Fläche vom Licht weg, oder gib ihr Schatten.",
    ),
    "thin_powder": _text(
        "Der Puder ist dünn oder fleckig.",
        "Blanke Stellen sehen wie Abdrücke aus, und Abdrücke wie blanke Stellen.",
        "Wischen, gleichmäßig sprühen und trocknen lassen.",
    ),
    # --- series of photos ---
    "ball_left_no_mark": _text(
        "Ein Ball hinterließ keinen Abdruck, der sich von den älteren unterscheiden lässt.",
        "Er traf vielleicht, wo kein Puder mehr war, oder verfehlte die Fläche; er fehlt im Trefferbild.",
        "Nach je drei oder vier Bällen wischen und neu sprühen.",
    ),
    "resprayed": _text(
        "Zwischen zwei Fotos wurde neu gesprüht.",
        "Abdrücke nach der neuen Schicht werden für sich gelesen; nichts geht verloren.",
        "Nichts zu tun.",
    ),
    "photos_misaligned": _text(
        "Zwei Fotos der Serie ließen sich nicht genau übereinanderlegen.",
        "Alte Ränder können wie neue Abdrücke aussehen, und die Lage neuer ist weniger genau.",
        "Halte das Telefon für alle Fotos einer Serie an derselben Stelle.",
    ),
    "photo_left_out": _text(
        "Ein früheres Foto der Serie ließ sich nicht auswerten und wurde ausgelassen.",
        "Wie viele seiner Bälle im nächsten Foto noch zu sehen sind, ist unbekannt, ebenso ihre Reihenfolge.",
        "Prüfe jedes Foto sofort (facemark check), solange die Abdrücke noch dieselben sind.",
    ),
    "read_fast": _text(
        "Das Foto wurde schnell ausgewertet: nur ein Maßstab gesucht, Abdrücke nur einmal betrachtet.",
        "Ein falscher Maßstab kann unbemerkt bleiben; wo Abdrücke übereinander liegen, kann einer fehlen.",
        "Werte es ohne --fast noch einmal aus, wo es darauf ankommt.",
    ),
    # --- by hand ---
    "corrected_by_hand": _text(
        "Diese Auswertung wurde von Hand berichtigt.",
        "Ein von Hand gezeigter Ort ist auf etwa 3 mm genau; die ursprüngliche Auswertung bleibt erhalten.",
        "Nichts zu tun; ohne die Berichtigungen ist die ursprüngliche Auswertung zu sehen.",
    ),
    # --- explanation ---
    "few_strikes": _text(
        "Es sind erst wenige Treffer.",
        "Die Mitte kann sich mit den nächsten Bällen um Millimeter verschieben.",
        "Schlage mehr Bälle, bevor du etwas änderst.",
    ),
    "sweet_spot_assumed": _text(
        "Niemand hat den Sweetspot dieses Kopfes gemessen; eine typische Lage wurde verwendet.",
        "Schlägerköpfe unterscheiden sich um einige Millimeter, und alle Lagen verschieben sich mit.",
        "Balanciere den Kopf auf einem Dorn, markiere den Punkt und trage ihn in die Schlägerdatei ein.",
    ),
    "sweet_spot_from_mark": _text(
        "Die aufgedruckte Markierung wurde als Sweetspot genommen.",
        "Sie zeigt die Mitte der Fläche; der Balancepunkt kann einige Millimeter daneben liegen.",
        "Balanciere den Kopf auf einem Dorn und trage den Punkt in die Schlägerdatei ein.",
    ),
    "centre_mark_not_found": _text(
        "Nahe der Mitte der Schlagfläche wurde keine aufgedruckte Markierung sicher gefunden.",
        "Der Sweetspot wurde stattdessen nach dem Umriss angenommen.",
        "Wische nur den Puder auf der Markierung ab, oder lass --centre-mark weg.",
    ),
    "club_assumed": _text(
        "Für Maße dieses Schlägerkopfs, die niemand gemessen hat, stehen typische Werte.",
        "Die Kurve eines Treffers neben der Mitte ist dann nur grob bekannt.",
        "Miss Wölbung und Sweetspot zu Hause und trag sie in die Schlägerdatei ein.",
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
        "Schon leichter Seitenwind versetzt einen Drive um Meter; die Bahn ist dann schlechter bekannt.",
        "Notiere den Wind, oder dass es windstill war.",
    ),
    "outside_model_range": _text(
        "Treffer oder Geschwindigkeit liegen außerhalb dessen, wofür das Modell geprüft wurde.",
        "Die Zahlen können um mehr als angegeben falsch sein.",
        "Nimm sie nur als grobe Richtung.",
    ),
    # --- pattern and comparison ---
    "mark_stands_apart": _text(
        "Ein Abdruck liegt weiter von den anderen weg, als eine Gruppe erklärt.",
        "Vielleicht ein Fehltreffer oder gar keiner; er verschiebt die Mitte und vergrößert die Streuung.",
        "Sieh ihn dir im Bild an. Er zählt weiter mit; die Aussage ohne ihn steht neben der mit ihm.",
    ),
    "mark_off_face": _text(
        "Ein Treffer liegt jenseits des Randes jeder Schlagfläche dieser Art.",
        "Es kann ein Tippfehler sein, eine falsche Einheit, oder ein Ball vom Hosel.",
        "Prüfe die Zahl. Sie zählt mit, bis du sie herausnimmst.",
    ),
    "same_place_twice": _text(
        "Zwei Treffer haben genau dieselbe Lage.",
        "Wurde ein Abdruck zweimal notiert, sieht die Gruppe enger und sicherer aus, als sie ist.",
        "Prüfe die Liste, und lass den zweiten weg, wenn er eine Kopie ist.",
    ),
    "marks_in_line": _text(
        "Alle Treffer liegen an einer Stelle oder auf einer Linie.",
        "In einer Richtung gibt es keine Streuung, nach der man urteilen könnte; dort wird nichts behauptet.",
        "Miss bei jedem Ball Spitze-Ferse und hoch-tief.",
    ),
    "spread_below_reading": _text(
        "Die Treffer unterscheiden sich nicht stärker, als die Abdrücke genau gelesen sind.",
        "Die Streuung der Treffer ist unsicher; null ist sie nie.",
        "Fotografiere näher und in weichem Licht, nach je drei oder vier Bällen.",
    ),
    "word_hangs_on_mark": _text(
        "Die Aussage ändert sich, wenn die nur wahrscheinlichen Abdrücke wegbleiben.",
        "Eine Aussage, die an einem unsicheren Abdruck hängt, ist nicht geklärt.",
        "Schlage noch ein paar Bälle, und fotografiere nach je drei oder vier.",
    ),
    "sweet_spot_limits": _text(
        "Was allen Bällen gemeinsam ist, vor allem die Lage des Sweetspots, ist zu grob bekannt.",
        "Mehr Bälle klären das in dieser Richtung nicht.",
        "Miss den Sweetspot und trage ihn in die Schlägerdatei ein.",
    ),
    "balls_unseen": _text(
        "Es sind weniger Treffer als geschlagene Bälle.",
        "Bälle, die die Fläche verfehlten, fehlen in der Streuung; sie ist dann mindestens so groß.",
        "Sag, wie viele die Fläche verfehlten; fotografiere nach je drei oder vier Bällen.",
    ),
    "conditions_differ": _text(
        "Die Serien wurden nicht unter denselben Bedingungen geschlagen.",
        "Ein Unterschied kann von den Bedingungen kommen statt vom Schläger oder vom Spieler.",
        "Wiederhole es mit gleichem Schläger, Krafteinsatz, Tee und gleich bestimmtem Sweetspot.",
    ),
    "conditions_unknown": _text(
        "Es wurde nicht notiert, ob die Serien unter denselben Bedingungen geschlagen wurden.",
        "Ein Unterschied kann von Krafteinsatz oder Teehöhe kommen.",
        "Notiere zu jeder Serie Schläger, Krafteinsatz und Teehöhe.",
    ),
    "sweet_spot_methods_differ": _text(
        "Die Sweetspots wurden auf verschiedene Weise gefunden.",
        "Von ihnen aus gemessene Mitten lassen sich nicht vergleichen, Streuungen schon.",
        "Miss den Sweetspot jedes Schlägers auf dieselbe Weise.",
    ),
    "counts_unequal": _text(
        "Die Serien haben sehr verschieden viele Bälle.",
        "Die kleinste Serie entscheidet, was sich sagen lässt.",
        "Schlage jedes Mal gleich viele Bälle.",
    ),
    "drift_in_set": _text(
        "Die Treffer wandern von Ball zu Ball in eine Richtung.",
        "Müdigkeit oder Warmwerden mischt sich in den Vergleich.",
        "Ruhe dich aus, nimm die gemischte Reihenfolge von facemark compare --plan, und wiederhole es.",
    ),
    "bad_day_first": _text(
        "Die erste Serie ist die schlechteste der Reihe.",
        "Eine Reihe, die nach einem schlechten Tag beginnt, wird von allein besser.",
        "Lass die erste Serie im Verlauf weg (--started-bad), und zähle weiter.",
    ),
    "mark_at_line": _text(
        "Ein Ball liegt zu nah an der Grenze, oder er wurde geschlagen, aber nicht gesehen.",
        "Die Entscheidung kann an ihm hängen.",
        "Schlage noch einen Block, oder miss diesen Ball noch einmal.",
    ),
    "sweet_spot_untold": _text(
        "Niemand sagte, wie gut der Sweetspot dieser Treffer bekannt ist; er wurde als genau genommen.",
        "Ein nach Augenmaß gefundener Sweetspot kann 2 mm daneben liegen, und die Mitte mit ihm.",
        "Gib mit --sweet-err eine Standardabweichung in mm an.",
    ),
    "gate_rough": _text(
        "Das Tor ist grob: Es stützt sich auf wenige Bälle, oder die Gruppe ist breiter oder flacher als die"
        " meisten.",
        "Vielleicht gehen mehr oder weniger als 7 bis 9 von 10 hindurch.",
        "Zähle mit; wenn zwanzig Bälle ausgewertet sind, passe es neu an.",
    ),
    "gate_effort": _text(
        "Das Tor passt zu Bällen, die mit anderem Krafteinsatz geschlagen wurden als der Block.",
        "Langsame Schwünge treffen meist enger: Das Tor kann anfangs leicht sein.",
        "Gib --photo-effort an, und lies zehn Abdrücke beim Krafteinsatz des Blocks, bevor du es verengst.",
    ),
    "bottle_by_eye": _text(
        "Der Platz der Flasche beruht auf einem üblichen Schwungkreis.",
        "Er stimmt auf etwa 2 Grad der Schwungbahn.",
        "Schwinge langsam ohne Ball, und rücke die Flasche nach außen, bis der Kopf gerade vorbeikommt.",
    ),
    "marks_left_out": _text(
        "Die neuesten Abdrücke sind zu wenige oder zu verschmolzen für einen Plan und blieben außen vor.",
        "Der Plan beruht auf den gezählten Blöcken; die Gruppe kann inzwischen anders liegen.",
        "Werte wenigstens fünf getrennte Abdrücke aus: Fotografiere nach je drei oder vier Bällen.",
    ),
}
