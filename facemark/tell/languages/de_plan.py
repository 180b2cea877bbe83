"""German: the sentences of the next practice block, same keys and placeholders as ``en_plan.py``."""

from __future__ import annotations

PLAN: dict[str, str] = {
    # --- what and why ---
    "plan.title": "Nächster Block: {focus}",
    "plan.dose": "{balls} mit {effort} % Kraft, etwa {minutes} Minuten",
    "plan.focus.strike": "Treffpunkt",
    "plan.focus.start": "Startlinie",
    "plan.focus.path": "Schwungbahn",
    "plan.focus.all together": "alles zusammen",
    "plan.why.off_centre": "Die Gruppe liegt {place}. Ein Treffer neben dem Sweetspot lässt den Ball von"
    " allein anders starten und krümmt seinen Flug; Schlagfläche und Bahn werden erst danach beurteilt.",
    "plan.why.high_low": "Die Gruppe liegt {place}. Erst die Höhe, dann alles Spätere.",
    "plan.why.scattered": "Die Treffer streuen weit (Streuung {spread}). Alles Spätere wird erst"
    " beurteilt, wenn sie enger liegen.",
    "plan.why.two_groups": "Die Abdrücke bilden zwei Gruppen: zwei Schwünge. Einer muss zuerst weg.",
    "plan.why.not_settled": "Der Treffpunkt steht noch nicht fest. Alles Spätere wird erst danach beurteilt.",
    "plan.why.keep_on": "Dieselbe Station geht weiter, bis ihre Zählung entscheidet.",
    "plan.why.starts_unknown": "Der Treffpunkt steht. Niemand hat notiert, wo die Bälle starten.",
    "plan.why.cannot_tell": "Der Treffpunkt steht. Was vom Flug übrig bleibt, ist kleiner als sein"
    " Zweifel; also werden die Starts genauer angesehen.",
    "plan.why.face": "Der Treffpunkt steht. Was vom Flug übrig bleibt, spricht von der Schlagfläche, und"
    " ihr gehört der größte Teil des Starts.",
    "plan.why.path": "Treffpunkt und Start stehen. Die Krümmung, die bleibt, spricht von der Schwungbahn.",
    "plan.why.settled": "Treffpunkt, Start und Bahn stehen jeder für sich. Jetzt alles zusammen.",
    "plan.why.retest": "Das gelang an einem anderen Tag. Gelernt ist nur, was wieder gelingt.",
    # --- headings ---
    "plan.head.why": "Warum",
    "plan.head.set up": "Aufbau",
    "plan.head.do": "Schlagen",
    "plan.head.rules": "Danach",
    "plan.head.care": "Vorsicht",
    "plan.head.beside": "Nebenbei",
    "plan.head.doubts": "Zweifel",
    # --- gate ---
    "plan.gate.head": "Kopf hinter den Ball, Sweetspot dem Ball gegenüber.",
    "plan.gate.tees": "Ein Tee {toe} jenseits der Spitze, eines {heel} jenseits der Ferse ({toe_tees} und"
    " {heel_tees} Teebreiten). Abstand zwischen ihnen: {gap}. So hoch, wie die Sohle vorbeikommt.",
    "plan.gate.passes": "Etwa {likely} von 10 deiner Treffer sollten hindurchgehen ({low} bis {high});"
    " {toe_hits} von 10 träfen das Tee an der Spitze, {heel_hits} das an der Ferse.",
    "plan.gate.kept": "Das Tor bleibt, wie es letztes Mal stand.",
    "plan.gate.joint": "Weiter als für den Treffpunkt allein, denn ein Ball muss alle drei zugleich"
    " schaffen.",
    "plan.gate.means": "Tee an der Spitze getroffen: ein Fersentreffer. Tee an der Ferse: ein"
    " Spitzentreffer.",
    "plan.gate.none": "Noch kein Tor: Es wäre breiter als die Schlagfläche. Schlage langsam und sieh"
    " jeden Abdruck an.",
    "plan.shift.nearer": "Erst verschieben: Stell dich {far} näher an den Ball und ändere sonst nichts"
    " (ein Versuch, kein Urteil).",
    "plan.shift.farther": "Erst verschieben: Stell dich {far} weiter vom Ball und ändere sonst nichts"
    " (ein Versuch, kein Urteil).",
    "plan.shift.gain": "Durch ein Tor für eine mittige Gruppe ({clear} je Seite) gehen heute {now} von"
    " 10, verschoben {shifted} von 10, und {tighter} von 10, wenn die Gruppe nur um ein Fünftel enger"
    " wäre.",
    "plan.shift.later": "Die Gruppe liegt daneben, aber enger bringt mehr als verschieben: erst das Tor.",
    "plan.shift.after": "Wenn die Abdrücke gewandert sind: {toe} jenseits der Spitze, {heel} jenseits der"
    " Ferse, Abstand {gap}.",
    "plan.height.lower": "Tee etwa {far} tiefer, die Hälfte dessen, was die Abdrücke zu hoch liegen."
    " Immer nur eine Änderung.",
    "plan.height.higher": "Tee etwa {far} höher, die Hälfte dessen, was die Abdrücke zu tief liegen."
    " Immer nur eine Änderung.",
    "plan.height.ground": "Vom Boden gibt es kein Tee zu ändern: Bürste langsam dieselbe Stelle im Gras"
    " und sieh wieder hin.",
    "plan.slower.two": "Noch kein Tor. Fotografiere nach je drei Bällen und notiere, welcher Schwung"
    " welchen Abdruck machte.",
    "plan.slower.slow": "Erst langsamer; das Tor ist mit Absicht weit.",
    # --- sticks ---
    "plan.stick.one": "Ein Stab {distance} voraus auf der Ziellinie, von dir weg geneigt.",
    "plan.stick.two": "Zwei Stäbe {distance} voraus, {gap} auseinander, die Ziellinie in der Mitte, beide"
    " von dir weg geneigt.",
    "plan.stick.side": "Zwei Stäbe {distance} voraus: einer auf der Ziellinie, einer {gap} {side} davon,"
    " beide von dir weg geneigt.",
    "plan.stick.free": "Hindurch geht ein Ball, der bis {angle}° nach jeder Seite startet.",
    "plan.stick.free at": "Hindurch geht ein Ball, der bis {angle}° nach jeder Seite startet: {off} bei"
    " deinen {carry}.",
    "plan.stick.free side": "Hindurch geht ein Ball, der {near}° bis {angle}° {side} startet.",
    "plan.stick.free side at": "Hindurch geht ein Ball, der {near}° bis {angle}° {side} startet: bis"
    " {off} bei deinen {carry}.",
    "plan.stick.strike": "Vorher abgezogen: Dein Treffer allein startet den Ball {start}.",
    "plan.stick.face": "Dann darf die Schlagfläche von {low} bis {high} zeigen (ihr gehören etwa {share}"
    " % des Starts; die Bahn gerade).",
    "plan.face.open": "{angle}° offen",
    "plan.face.closed": "{angle}° geschlossen",
    # --- bottle ---
    "plan.bottle.outside": "Eine leichte Plastikflasche {along} hinter dem Ball auf der Seite der Spitze,"
    " ihr naher Rand {out} außerhalb der Ball-Linie.",
    "plan.bottle.inside": "Eine leichte Plastikflasche {along} vor dem Ball auf der Seite der Spitze, ihr"
    " naher Rand {out} außerhalb der Ball-Linie.",
    "plan.bottle.fill": "Ein Fingerbreit Wasser, damit sie steht und umfällt. Eine weiche Schlägerhaube"
    " geht auch.",
    "plan.bottle.ok outside": "Ein Schwung bis {ok}° von außen geht vorbei; ab {struck}° fällt die Flasche.",
    "plan.bottle.ok inside": "Ein Schwung bis {ok}° von innen geht vorbei; ab {struck}° fällt die Flasche.",
    "plan.bottle.try": "Schwinge erst langsam ohne Ball; rücke sie hinaus, bis der Kopf eben vorbeikommt.",
    # --- a good ball ---
    "plan.good.gate": "Gut: Beide Tees stehen. Der Abdruck, wenn du hinsiehst, liegt dann zwischen {heel}"
    " zur Ferse und {toe} zur Spitze; wenn nicht, steht das Tor falsch.",
    "plan.good.zone": "Gut: Der Abdruck liegt höchstens {zone} vom Sweetspot.",
    "plan.good.one": "Gut: Er geht höchstens {half} neben dem Stab vorbei. Notiere bei jedem Ball links,"
    " darüber oder rechts.",
    "plan.good.one side": "Gut: Er startet {side} vom Stab. Notiere bei jedem Ball links, darüber oder"
    " rechts.",
    "plan.good.two": "Gut: Er geht zwischen den Stäben hindurch. Notiere bei jedem Ball links, drin oder"
    " rechts.",
    "plan.good.bottle": "Gut: Die Flasche steht.",
    "plan.good.all": "Gut: Tees stehen, er geht zwischen den Stäben hindurch und krümmt sich höchstens"
    " {window} nach jeder Seite. Notiere, was zuerst misslang: Treffpunkt, Start oder Kurve.",
    "plan.slow": "Lass den Abschwung dreimal so lange dauern; verkürze ihn nicht. Kraft ist ein Gefühl,"
    " kein Tempo.",
    "plan.small marks": "Langsame Treffer machen kleine, blasse Abdrücke (Tempo hoch 0,4: halbes Tempo,"
    " drei Viertel der Größe). Fotografiere näher und nach wenigen Bällen.",
    # --- rules ---
    "plan.rule.so far": "Bisher gezählt: {good} von {balls}.",
    "plan.rule.up": "{up}: eine Stufe höher, {effort} %.",
    "plan.rule.top": "{up}: gehalten. Dasselbe an einem anderen Tag: gelernt.",
    "plan.rule.back": "{down}: zurück auf {effort} %.",
    "plan.rule.easier": "{down}: langsamer, oder weiter stellen.",
    "plan.rule.narrow": "Danach die Stäbe enger: {gap}.",
    "plan.rule.new marks": "Danach zwanzig neue Abdrücke lesen und das Tor neu anpassen.",
    "plan.rule.else": "Sonst zehn weitere; nach dreißig neu zählen.",
    "plan.rule.of": "{good} von {balls}",
    "plan.rule.or more": "{counts} oder mehr",
    "plan.rule.or fewer": "{counts} oder weniger",
    "plan.rule.stop": "Schluss für heute: Schmerz in Handgelenk, Ellbogen oder Rücken (zum Arzt), zwei"
    " misslungene Serien, oder Abdrücke, die mit der Müdigkeit wandern.",
    "plan.stop.pain": "Schluss für heute: Schmerz. Geh zum Arzt; dieser Block ist für danach.",
    "plan.stop.two failed sets": "Schluss für heute: zwei misslungene Serien. Dieser Block ist für einen"
    " anderen Tag.",
    "plan.stop.drift": "Schluss für heute: Die Abdrücke wandern mit der Ballnummer, wie bei Müdigkeit.",
    # --- care ---
    "plan.care.gate": "Schutzbrille bei den Tees; niemand vor oder neben dir.",
    "plan.care.stick": "Stäbe von dir weg neigen; niemand vor oder neben dir.",
    "plan.care.bottle": "Niemand vor oder neben dir; eine Flasche kann fliegen.",
    "plan.care.spray": "Sprühe draußen, weg von Augen und Flammen.",
    "plan.care.rules": "Nur zum Üben: Reinige die Schlagfläche, bevor du spielst (Golfregeln 4.1a(3))."
    " Die Regeln der Anlage gehen vor.",
    # --- offers ---
    "plan.offer.call_it": "Sage vor dem Hinsehen, wo jeder Ball war, und schreibe beides auf (facemark"
    " callit).",
    "plan.offer.miss_on_purpose": "Zum Schluss sechs Bälle auf Ansage: Ferse, Spitze, Mitte. Gezählt wird"
    " nach den Abdrücken.",
    "plan.offer.powder_and_clean": "Beurteile Start und Krümmung mit Bällen von sauberer Fläche: Puder"
    " ändert den Drall. Den Treffpunkt getrennt davon mit Puder.",
    # --- drawing ---
    "plan.draw.target": "Ziel",
    "plan.draw.you": "du",
    "plan.draw.toe": "Spitze",
    "plan.draw.heel": "Ferse",
    "plan.draw.gap": "Abstand {gap}",
    "plan.draw.bottle": "Flasche",
    "plan.draw.scale": "maßstäblich, von oben",
    "plan.draw.hand": "{hand}",
    "plan.set": "Serie {n}",
    "plan.sheet": "Hake gute Bälle ab; sonst schreibe, was zuerst misslang: Treffpunkt, Start, Kurve.",
    # --- after a block ---
    "plan.block.noted": "Notiert: {focus}, {good} von {balls} mit {effort} %.",
    "plan.block.failed": "Zuerst misslang: {failed}.",
    "plan.block.move on": "Eine Stufe höher: als Nächstes {effort} %.",
    "plan.block.held": "Mit voller Kraft gehalten. An einem anderen Tag noch einmal; dann gilt es als"
    " gelernt.",
    "plan.block.learned": "An einem anderen Tag wieder gehalten: gelernt.",
    "plan.block.make it easier": "Eine Stufe zurück: als Nächstes {effort} %.",
    "plan.block.hit more": "Noch offen: bisher {good} von {balls}; {more} mit {effort} %.",
    "plan.block.lowest": "Stelle es weiter, oder lies zehn neue Abdrücke: noch einmal {effort} %.",
    "plan.block.stay": "Dreißig Bälle ohne Entscheidung: bei {effort} % bleiben und neu zählen.",
    "plan.fail.strike": "Treffpunkt {n}",
    "plan.fail.start": "Start {n}",
    "plan.fail.curve": "Kurve {n}",
    "plan.tees.agree": "Tees und Abdrücke erzählen dasselbe.",
    "plan.tees.swapped": "Tees und Abdrücke passen nur mit vertauschten Seiten: Ein getroffenes Tee an"
    " der SPITZE heißt FERSENTREFFER. Prüfe, welches Tee fiel.",
    "plan.tees.more": "Es fielen mehr Tees, als die Abdrücke erklären ({toe} an der Spitze und {heel} an"
    " der Ferse erwartet): Der Kopf stand nicht mit dem Sweetspot am Ball, ein Tee zu nah, oder der"
    " Kopf kam verdreht.",
    "plan.tees.fewer": "Es fielen weniger Tees, als die Abdrücke erklären ({toe} an der Spitze und {heel}"
    " an der Ferse erwartet): Die Tees stehen zu weit, der Ball wurde bewegt, oder es sind fremde"
    " Abdrücke dabei.",
    # --- called strikes ---
    "plan.call.err": "Angesagt auf {err} genau ({least} bis {most}), über {balls}.",
    "plan.call.better": "Besser, als jedes Mal die übliche Stelle zu nennen ({usual}).",
    "plan.call.no better": "Nicht nachweislich besser, als jedes Mal die übliche Stelle zu nennen ({usual}).",
    "plan.call.lean": "Deine Ansagen liegen {place} daneben.",
    "plan.call.no lean": "Deine Ansagen neigen zu keiner Seite, die sich zeigen ließe.",
    "plan.purpose": "Auf Ansage: {good} von {balls}.",
}
