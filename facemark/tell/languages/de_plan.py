"""German: the sentences of the next practice block, same keys and placeholders as ``en_plan.py``."""

from __future__ import annotations

PLAN: dict[str, str] = {
    # --- what and why ---
    "plan.title": "Nächster Block: {focus}",
    "plan.dose": "{balls} mit {effort} % Krafteinsatz, etwa {minutes} Minuten",
    "plan.range": "{low} bis {high}",
    "plan.focus.strike": "Treffpunkt",
    "plan.focus.start": "Startlinie",
    "plan.focus.path": "Schwungbahn",
    "plan.focus.all together": "alles zusammen",
    "plan.why.off_centre": (
        "Die Gruppe liegt {place}. Schon ein Treffer neben dem Sweetspot allein verändert Start und "
        "Kurve; Schlagfläche und Schwungbahn werden deshalb erst danach beurteilt."
    ),
    "plan.why.high_low": "Die Gruppe liegt {place}. Erst kommt die Höhe, dann alles andere.",
    "plan.why.scattered": (
        "Die Treffer sind verstreut (Streuung {spread}). Alles andere wird erst beurteilt, wenn sie "
        "enger liegen."
    ),
    "plan.why.two_groups": (
        "Die Abdrücke bilden zwei Gruppen, wie zwei verschiedene Schwünge sie machen. Einer davon muss "
        "zuerst weg."
    ),
    "plan.why.not_settled": "Der Treffpunkt steht noch nicht fest. Alles andere wird erst danach beurteilt.",
    "plan.why.keep_on": "Diese Station läuft weiter, bis ihre Zählung entschieden ist.",
    "plan.why.starts_unknown": "Der Treffpunkt stimmt. Wo die Bälle starten, hat noch niemand notiert.",
    "plan.why.cannot_tell": (
        "Der Treffpunkt stimmt. Was vom Flug übrig bleibt, ist kleiner als seine Unsicherheit; deshalb "
        "wird die Startrichtung genauer angesehen."
    ),
    "plan.why.face": (
        "Der Treffpunkt stimmt. Was vom Flug übrig bleibt, deutet auf die Schlagfläche, und sie "
        "bestimmt den größten Teil der Startrichtung."
    ),
    "plan.why.path": "Treffpunkt und Start stimmen. Die Kurve, die bleibt, deutet auf die Schwungbahn.",
    "plan.why.path_told": (
        "Treffpunkt und Start stimmen. Woher der Schwung kommt, wurde gesagt, nicht gemessen."
    ),
    "plan.why.settled": "Treffpunkt, Start und Schwungbahn stimmen jeweils für sich. Jetzt alles zusammen.",
    "plan.why.retest": "An einem anderen Tag hat es schon geklappt. Gelernt ist nur, was wieder klappt.",
    # --- headings ---
    "plan.head.why": "Warum",
    "plan.head.set up": "Aufbau",
    "plan.head.do": "Schlagen",
    "plan.head.rules": "Danach",
    "plan.head.care": "Vorsicht",
    "plan.head.beside": "Außerdem",
    "plan.head.doubts": "Vorbehalte",
    # --- gate ---
    "plan.gate.head": "Den Schlägerkopf hinter den Ball stellen, den Sweetspot genau dem Ball gegenüber.",
    "plan.gate.tees": (
        "Ein Tee {toe} außerhalb der Spitze, eines {heel} außerhalb der Ferse ({toe_tees} und {heel_tees} "
        "Teebreiten). Abstand zwischen den Tees: {gap}. Oberkante knapp über der Höhe, in der die Sohle "
        "vorbeikommt."
    ),
    "plan.fewer than one": "weniger als 1",
    "plan.gate.passes": (
        "Etwa {likely} von 10 deiner Treffer sollten hindurchgehen ({range}); {toe_hits} von 10 träfen das "
        "Tee an der Spitze, {heel_hits} das an der Ferse."
    ),
    "plan.gate.through": "Von den ausgewerteten Abdrücken ({balls}) wären {through} hindurchgegangen.",
    "plan.gate.kept": "Das Tor ist das des letzten Plans.",
    "plan.gate.joint": (
        "Weiter als für den Treffpunkt allein, denn jeder Ball muss alle drei Aufgaben zugleich schaffen."
    ),
    "plan.gate.means": (
        "Tee an der Spitze umgeworfen: ein Fersentreffer. Tee an der Ferse umgeworfen: ein Spitzentreffer."
    ),
    "plan.gate.none": (
        "Noch kein Tor: Es wäre breiter als die Schlagfläche. Schlage langsam und sieh dir jeden Abdruck an."
    ),
    "plan.shift.nearer": (
        "Zuerst den Abstand ändern: Stell dich {far} näher an den Ball und ändere sonst nichts (ein "
        "Versuch, kein Urteil)."
    ),
    "plan.shift.farther": (
        "Zuerst den Abstand ändern: Stell dich {far} weiter weg vom Ball und ändere sonst nichts (ein "
        "Versuch, kein Urteil)."
    ),
    "plan.shift.gain": (
        "Durch ein Tor für eine mittige Gruppe ({clear} je Seite) gehen heute etwa {now} von 10 "
        "({now_range}), nach der Änderung {shifted} ({shifted_range}); wäre die Gruppe nur um ein Fünftel "
        "enger, {tighter} ({tighter_range})."
    ),
    "plan.shift.later": (
        "Die Gruppe liegt nicht mittig, aber eine engere Gruppe bringt mehr als eine verschobene: "
        "zuerst das Tor."
    ),
    "plan.shift.after": (
        "Wenn die Abdrücke gewandert sind, stelle die Tees {toe} außerhalb der Spitze und {heel} außerhalb "
        "der Ferse auf, Abstand {gap}."
    ),
    "plan.height.lower": (
        "Den Ball etwa {far} tiefer aufteen: die Hälfte dessen, was die Abdrücke zu hoch liegen. Immer "
        "nur eine Änderung."
    ),
    "plan.height.higher": (
        "Den Ball etwa {far} höher aufteen: die Hälfte dessen, was die Abdrücke zu tief liegen. Immer "
        "nur eine Änderung."
    ),
    "plan.height.ground": (
        "Vom Boden gibt es keine Teehöhe zu ändern: Bürste langsam immer dieselbe Stelle im Gras und "
        "sieh wieder nach."
    ),
    "plan.slower.two": (
        "Noch kein Tor. Fotografiere nach je drei Bällen und notiere, welcher Schwung welchen Abdruck "
        "gemacht hat. Behalte den Schwung der einen Gruppe ({keep}); lass den der anderen ({leave})."
    ),
    "plan.slower.slow": "Erst langsamer werden; das Tor ist mit Absicht weit.",
    # --- sticks ---
    "plan.stick.one": "Ein Stab {distance} voraus auf der Ziellinie, von dir weg geneigt.",
    "plan.stick.two": "Zwei Stäbe {distance} voraus, {gap} auseinander, die Ziellinie in der Mitte, beide"
    " von dir weg geneigt.",
    "plan.stick.side": (
        "Zwei Stäbe {distance} voraus: einer auf der Ziellinie, der andere {gap} {side} versetzt, beide "
        "von dir weg geneigt."
    ),
    "plan.stick.free": "Gut ist ein Ball, der höchstens {angle}° nach jeder Seite startet.",
    "plan.stick.free at": (
        "Gut ist ein Ball, der höchstens {angle}° nach jeder Seite startet: {off} bei deinen {carry}."
    ),
    "plan.stick.free side": "Gut ist ein Ball, der {near}° bis {angle}° {side} startet.",
    "plan.stick.free side at": (
        "Gut ist ein Ball, der {near}° bis {angle}° {side} startet: bis {off} bei deinen {carry}."
    ),
    "plan.stick.strike": (
        "Schon abgezogen: Dein Treffer allein lässt den Ball {start} starten ({low} bis {high})."
    ),
    "plan.stick.face": (
        "Die Schlagfläche darf dann bei gerader Bahn zwischen {low} und {high} stehen (sie bestimmt etwa "
        "{share} % der Startrichtung, {share_low} bis {share_high})."
    ),
    "plan.stick.face at most": (
        "Die Schlagfläche darf dann bis {limit} stehen, die Bahn zeigt noch weiter {side}: Das krümmt den "
        "Ball zurück."
    ),
    "plan.stick.face at least": (
        "Die Schlagfläche steht dann {limit} oder mehr, die Bahn zeigt noch weiter {side}: Das krümmt den "
        "Ball zurück."
    ),
    "plan.face.open": "{angle}° offen",
    "plan.face.closed": "{angle}° geschlossen",
    # --- bottle ---
    "plan.bottle.outside": (
        "Eine leichte Plastikflasche {along} hinter dem Ball auf der Seite der Spitze, ihr näherer Rand "
        "{out} jenseits der Ziellinie durch den Ball, von dir weg."
    ),
    "plan.bottle.inside": (
        "Eine leichte Plastikflasche {along} vor dem Ball auf der Seite der Spitze, ihr näherer Rand {out} "
        "jenseits der Ziellinie durch den Ball, von dir weg."
    ),
    "plan.bottle.fill": (
        "Ein Fingerbreit Wasser, damit sie steht, aber leicht umfällt. Eine weiche Schlägerhaube geht "
        "auch, wenn sie höher steht als {rise}; der Kopf kommt tiefer vorbei."
    ),
    "plan.bottle.ok outside": (
        "Ein mittiger Treffer, der bis etwa {ok}° von außen kommt, geht vorbei; ab etwa {struck}° fällt "
        "sie. Beides stimmt auf etwa 2°."
    ),
    "plan.bottle.ok inside": (
        "Ein mittiger Treffer, der bis etwa {ok}° von innen kommt, geht vorbei; ab etwa {struck}° fällt "
        "sie. Beides stimmt auf etwa 2°."
    ),
    "plan.bottle.try": (
        "Schwinge erst langsam ohne Ball, und rücke sie nach außen, bis ein guter Schwung gerade noch "
        "vorbeikommt."
    ),
    # --- a good ball ---
    "plan.good.gate": (
        "Gut: Beide Tees bleiben stehen. Wo du nachsiehst, liegt der Abdruck dann zwischen {heel} zur "
        "Ferse und {toe} zur Spitze; wenn nicht, steht das Tor falsch."
    ),
    "plan.good.shift": (
        "Gut: Beide Tees bleiben stehen und der Abdruck liegt zwischen {heel} zur Ferse und {toe} zur "
        "Spitze, wie die meisten, sobald du anders stehst. Fotografiere nach je drei oder vier Bällen."
    ),
    "plan.good.zone": "Gut: Der Abdruck liegt höchstens {zone} vom Sweetspot entfernt.",
    "plan.good.group": (
        "Gut: Der Abdruck liegt näher bei der Gruppe, die bleibt ({keep}), als bei der anderen ({leave})."
    ),
    "plan.good.one": (
        "Gut: Der Ball geht höchstens {half} neben dem Stab vorbei. Notiere bei jedem Ball links, "
        "darüber oder rechts."
    ),
    "plan.good.one side": (
        "Gut: Der Ball startet vom Stab aus {side}. Notiere bei jedem Ball links, darüber oder rechts."
    ),
    "plan.good.two": (
        "Gut: Der Ball geht zwischen den Stäben hindurch. Notiere bei jedem Ball links, drin oder rechts."
    ),
    "plan.good.bottle": "Gut: Die Flasche bleibt stehen.",
    "plan.good.all": (
        "Gut: Die Tees bleiben stehen, der Ball geht zwischen den Stäben hindurch und weicht höchstens "
        "{window} nach jeder Seite ab. Notiere, was zuerst misslang: Treffpunkt, Start oder Kurve."
    ),
    "plan.slow": (
        "Lass dir für den Abschwung dreimal so viel Zeit; verkürze ihn nicht. Krafteinsatz ist ein "
        "Gefühl, keine Geschwindigkeit."
    ),
    "plan.small marks": (
        "Langsame Treffer machen kleine, blasse Abdrücke: bei halber Geschwindigkeit etwa drei Viertel so "
        "breit. Fotografiere näher, nach wenigen Bällen, und notiere den Krafteinsatz zum Foto."
    ),
    # --- rules ---
    "plan.rule.so far": "Bisher gezählt: {good} von {balls}.",
    "plan.rule.up": "{up}: eine Stufe höher, {effort} %.",
    "plan.rule.top": "{up}: geschafft. Gelingt es an einem anderen Tag wieder: gelernt.",
    "plan.rule.back": "{down}: zurück auf {effort} %.",
    "plan.rule.easier": "{down}: langsamer schlagen oder weiter stellen.",
    "plan.rule.slower": "{down}: noch langsamer schlagen, und zehn neue Abdrücke auswerten.",
    "plan.rule.no change": (
        "{down}: Die Änderung allein war es nicht. Werte zehn neue Abdrücke aus und plane neu."
    ),
    "plan.rule.narrow": "Danach die Stäbe enger stellen: {gap}.",
    "plan.rule.new marks": "Danach zwanzig neue Abdrücke auswerten und das Tor neu anpassen.",
    "plan.rule.else": "Sonst zehn weitere Bälle; nach dreißig neu zählen.",
    "plan.rule.of": "{good} von {balls}",
    "plan.rule.or more": "{counts} oder mehr",
    "plan.rule.or fewer": "{counts} oder weniger",
    "plan.rule.stop": (
        "Schluss für heute bei: Schmerzen in Handgelenk, Ellbogen oder Rücken (zum Arzt), zwei "
        "misslungenen Serien oder Abdrücken, die mit der Müdigkeit wandern."
    ),
    "plan.stop.pain": "Schluss für heute: Schmerzen. Geh zum Arzt; dieser Block ist für danach.",
    "plan.stop.two failed sets": "Schluss für heute: zwei misslungene Serien. Dieser Block ist für einen"
    " anderen Tag.",
    "plan.stop.drift": "Schluss für heute: Die Abdrücke wandern mit der Ballnummer, wie bei Müdigkeit.",
    # --- care ---
    "plan.care.near": (
        "Tees, Stäbe und Flaschen können fliegen: Schutzbrille auf, niemand vor oder neben dir."
    ),
    "plan.care.stick": (
        "Ein Ball kann von einem Stab zurückkommen, vor allem von einem auf der Ziellinie: Neige ihn flach "
        "von dir weg und setze eine Kappe auf sein Ende."
    ),
    "plan.care.spray": "Sprühe draußen, mit dem Wind, weg von Augen und Flammen; nicht einatmen.",
    "plan.care.rules": (
        "Nur zum Üben: Reinige die Schlagfläche, bevor du spielst (Golfregeln 4.1a(3)). Die Regeln der "
        "Anlage haben Vorrang."
    ),
    # --- offers ---
    "plan.offer.call_it": (
        "Sage vor dem Nachsehen, wo du jeden Ball getroffen hast, und schreibe beides auf (facemark callit)."
    ),
    "plan.offer.miss_on_purpose": "Zum Schluss sechs Bälle auf Ansage: Ferse, Spitze, Mitte. Gezählt wird"
    " nach den Abdrücken.",
    "plan.offer.powder_and_clean": (
        "Beurteile Start und Kurve mit Bällen von sauberer Schlagfläche: Puder verändert den Spin. Den "
        "Treffpunkt prüfe getrennt davon, mit Puder."
    ),
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
    "plan.sheet.all": "Hake gute Bälle ab; sonst schreibe, was zuerst misslang: Treffpunkt, Start, Kurve.",
    "plan.sheet.gate": "Hake gute Bälle ab; sonst schreibe das umgeworfene Tee: S (Spitze) oder F (Ferse).",
    "plan.sheet.stick": "Hake gute Bälle ab; sonst schreibe L (links) oder R (rechts).",
    "plan.sheet.plain": "Hake gute Bälle ab.",
    # --- after a block ---
    "plan.block.noted": "Notiert: {focus}, {good} von {balls} mit {effort} %.",
    "plan.block.failed": "Zuerst misslang: {failed}.",
    "plan.block.move on": "Eine Stufe höher: als Nächstes {effort} %.",
    "plan.block.held": (
        "Mit vollem Krafteinsatz geschafft. Das wird an einem anderen Tag noch einmal versucht; dann "
        "gilt es als gelernt."
    ),
    "plan.block.learned": "An einem anderen Tag wieder geschafft: gelernt.",
    "plan.block.make it easier": "Eine Stufe zurück: als Nächstes {effort} %.",
    "plan.block.hit more": "Noch offen: bisher {good} von {balls}; {more} mit {effort} %.",
    "plan.block.lowest": "Stelle es weiter, oder werte zehn neue Abdrücke aus: noch einmal {effort} %.",
    "plan.block.stay": "Dreißig Bälle ohne Entscheidung: bei {effort} % bleiben und neu zählen.",
    "plan.fail.strike": "Treffpunkt {n}",
    "plan.fail.start": "Start {n}",
    "plan.fail.curve": "Kurve {n}",
    "plan.tees.agree": "Tees und Abdrücke passen zusammen.",
    "plan.tees.swapped": (
        "Tees und Abdrücke passen nur mit vertauschten Seiten zusammen: Ein umgeworfenes Tee an der "
        "SPITZE bedeutet einen FERSENTREFFER. Prüfe, welches Tee gefallen ist."
    ),
    "plan.tees.more": (
        "Es fielen mehr Tees, als die Abdrücke erklären (erwartet: {toe} an der Spitze und {heel} an "
        "der Ferse): Der Kopf stand nicht mit dem Sweetspot am Ball, ein Tee stand zu nah, oder der "
        "Kopf kam verdreht an den Ball."
    ),
    "plan.tees.fewer": (
        "Es fielen weniger Tees, als die Abdrücke erklären (erwartet: {toe} an der Spitze und {heel} an "
        "der Ferse): Die Tees stehen zu weit auseinander, der Ball lag anders, oder es sind Abdrücke "
        "anderer Bälle dabei."
    ),
    # --- called strikes ---
    "plan.call.err": "Deine Ansagen liegen um etwa {err} daneben ({least} bis {most}; {balls}).",
    "plan.call.better": "Besser, als jedes Mal die übliche Stelle zu nennen ({usual}).",
    "plan.call.no better": "Nicht erkennbar besser, als jedes Mal die übliche Stelle zu nennen ({usual}).",
    "plan.call.lean": "Sie liegen im Mittel {place} daneben.",
    "plan.call.side": "{place} ({least} bis {most})",
    "plan.call.no lean": "Sie liegen nach keiner Seite erkennbar daneben.",
    "plan.purpose": (
        "Auf Ansage: {good} von {balls} (deine wahre Quote: {least} bis {most} %). Die Mitte reicht {edge} "
        "nach jeder Seite."
    ),
}
