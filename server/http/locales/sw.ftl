# Kiswahili. Texts to be read over by members are listed in REVIEW.md.
title = traybook
skip = Nenda kwenye yaliyomo
language-other = English
sign-in = Ingia
sign-out = Toka
login = Namba ya simu au barua pepe
password = Nenosiri
wrong-sign-in = Namba au nenosiri si sahihi. Angalia zote mbili kisha jaribu tena.
wait-sign-in = Umejaribu mara nyingi. Subiri { $minutes ->
    [one] dakika moja
   *[other] dakika { $minutes }
  } kisha jaribu tena.
choose-cooperative = Uko katika vyama kadhaa. Uliza ofisi yako anwani sahihi.
nav-today = Leo
nav-milk = Maziwa na mayai
today-title = Leo, { $date }
nothing-to-do = Hakuna kazi leo.
all-done = Kazi zote za leo zimekwisha.
late = imechelewa
done = imefanyika
done-at = imefanyika { $time }
do-it = Imefanyika
cause = kwa nini
reason = sababu
harvest-kg = kilo zilizopimwa
lasts-days = Mbegu iliyopo shambani inatosha { $days ->
    [one] siku moja.
   *[other] siku { $days }.
  }
seed-on-farm = Mbegu iliyopo shambani: kilo { $kg }.
short = { $group } watakosa kilo { $kg } za lishe mbichi leo.
surplus = Kilo { $kg } za lishe mbichi zitabaki kwa { $group } leo.
lot-held = Mbegu ya fungu { $lot } imezuiwa: usiloweke wala kulisha. Iweke kando na umuulize afisa.
task-soak = Loweka kilo { $kg } za { $crop } kwa { $group }: { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  }
task-soak-lot = Fungu { $lot }
task-drain = Chuja maji ya kilo { $kg } za { $crop }
task-spread = Tandaza kilo { $kg } za { $crop } kwenye { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  }
task-water = Mwagilia { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  }, mara ya { $number } kati ya { $times }
task-harvest = Vuna { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  } kwa { $group }
task-harvest-kg = takribani kilo { $kg } zinatarajiwa
task-feed = Lisha { $group } kilo { $kg } leo
task-discard = Tupa { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  }: fukia au tengeneza mboji mbali na mifugo
task-clean = Sugua, tia dawa, suuza na kausha { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  }
feed-on = kulishwa { $date }
due-at = { $time }
batch = mkupuo { $code }
shed = banda { $code }
your-animals = mifugo wako
crop-barley = shayiri
crop-wheat = ngano
crop-maize = mahindi
crop-millet = uwele
crop-oats = oti
crop-sorghum = mtama
cause-mould = ukungu
cause-rot_at_drain_end = kuoza upande wa maji kutoka
cause-poor_germination = mbegu hazikuota vizuri
cause-dried_out = zimekauka
cause-pests = wadudu au wanyama waharibifu
cause-left_too_long = zimeachwa muda mrefu
cause-other = nyingine
caution-mould = Ukungu: usilishe. Lishe yenye ukungu inaweza kuua mifugo; muulize afisa wa mifugo.
caution-over-age = Siku yake imepita: angalia ukungu na harufu chachu. Tupa yenye shaka; kulisha iliyobaki kunahitaji sababu.
caution-held = Mbegu ya fungu hili imezuiwa: usiloweke wala kulisha; iweke kando na umuulize afisa.
caution-sorghum = Mtama mchanga unaweza kuua mifugo (sumu ya asidi ya prusiki). Uliza huduma za mifugo kwanza.
why-due = ilipaswa kufanyika { $days ->
    [one] jana
   *[other] siku { $days } zilizopita
  }
why-passed = muda wake wa leo umepita
why-moved = imehamishwa kutoka siku ya mapumziko
footer = Lishe yenye ukungu na mbegu zilizotiwa dawa ni sumu: usilishe, muulize afisa wa mifugo. Ushauri wa malisho hutolewa na huduma za mifugo za eneo lako.
milk-title = Maziwa na mayai
milk-litres = Lita leo, { $group }
milk-cows = Wanyama waliokamuliwa
eggs-count = Mayai leo, { $group }
eggs-hens = Kuku waliopo
save = Hifadhi
saved = Imehifadhiwa.
no-milk-or-eggs = Hakuna mifugo wa maziwa au mayai waliorekodiwa. Muulize afisa wako.
error-title = Tafadhali angalia
error-try-again = Haikufaulu: { $detail }
page-not-there = Hakuna kitu kwenye anwani hii.
back-today = Kwenye kazi za leo
more-farms = { $count ->
    [one] Shamba moja zaidi lina kazi.
   *[other] Mashamba { $count } zaidi yana kazi.
  }
not-for-you = Ukurasa huu si wa kazi yako.
sheet-title = Kazi
sheet-no-work = Hakuna kazi
sheet-nothing = Hakuna la kufanya.
sheet-done = imefanyika
sheet-column-done = Tayari
sheet-column-time = Saa
sheet-column-work = Kazi
sheet-column-amount = Kiasi gani, lini
sheet-to-do = bado
sheet-made = imetengenezwa
sheet-footer = Lishe yenye ukungu na mbegu zilizotiwa dawa ni sumu: usilishe, muulize afisa wa mifugo.
sheet-day-1 = Jumatatu
sheet-day-2 = Jumanne
sheet-day-3 = Jumatano
sheet-day-4 = Alhamisi
sheet-day-5 = Ijumaa
sheet-day-6 = Jumamosi
sheet-day-7 = Jumapili
sheet-feed = Lisha { $what } kwa { $group }
sheet-feed-held = Weka { $what } kando: usilishe
sheet-feed-kept = Lisha { $what } ya { $date } kwa { $group }, au itupe
sheet-throw-away = Tupa { $what }: fukia au tengeneza mboji mbali na mifugo
sheet-fodder-kg = lishe mbichi kilo { $kg }
sheet-fodder-trays = { $trays ->
    [one] lishe mbichi ya trei 1
   *[other] lishe mbichi ya trei { $trays }
  }
sheet-fodder = iliyovunwa
sheet-mould = ukungu umeonekana
sheet-short = { $group } itapungukiwa kilo { $kg } za lishe mbichi siku hii.
sheet-surplus = Kilo { $kg } za lishe mbichi zimezidi kwa { $group } siku hii.
