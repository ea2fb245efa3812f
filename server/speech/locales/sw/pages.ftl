# Kiswahili. Texts to be read over by members are listed in REVIEW.md.
title = traybook
skip = Nenda kwenye yaliyomo
language-own = Kiswahili
sign-in = Ingia
sign-out = Toka
login = Namba ya simu au barua pepe
password = Nenosiri au PIN
kept-sign-in = Umetoka kwenye mfumo. Ulichojaza kimehifadhiwa: ingia, kisha ukitume.
kept-title = Tuma ulichojaza
kept-about = Bado hakijarekodiwa.
kept-of-another = Mtu mwingine ndiye aliyejaza haya. Ukiyatuma sasa, yatakuwa kwa jina lako.
kept-no-files = Faili na picha hazikuja pamoja nacho. Ziongeze tena baadaye.
kept-send = Tuma
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
short = Leo { $group } watapungukiwa kilo { $kg } za malisho mabichi.
surplus = Kilo { $kg } za malisho mabichi zitabaki kwa { $group } leo.
lot-held = Mbegu ya fungu { $lot } imezuiwa: usiloweke wala kulisha. Iweke kando na umuulize afisa.
task-soak = Loweka kilo { $kg } za { $crop } kwa { $group }: { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  }
task-soak-lot = Fungu { $lot }
task-drain = Mwaga maji ya kulowekea ya kilo { $kg } za { $crop }
task-spread = Tandaza kilo { $kg } za { $crop } kwenye { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  }
task-water = Mwagilia { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  }, mara ya { $number ->
    [1] kwanza
    [2] pili
    [3] tatu
    [4] nne
    [5] tano
    [6] sita
   *[other] { $number }
  } kati ya { $times ->
    [1] moja
    [2] mbili
    [3] tatu
    [4] nne
    [5] tano
    [6] sita
   *[other] { $times }
  }
task-harvest = Vuna { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  } kwa { $group }
task-harvest-early = Vuna mapema { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  } kwa { $group }, siku { $days } kabla ya wakati wake
task-harvest-kg = takribani kilo { $kg } zinatarajiwa
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
your-animals = mifugo yako
the-animals = mifugo
your-shed = banda lako
farm-result = Matokeo
batch-soaked = mkupuo wa { $crop } uliolowekwa { $day }
own-dairy_cows = { $count ->
    [0] ng’ombe wako
    [one] ng’ombe wako mmoja
   *[other] ng’ombe wako { $count }
  }
own-other_cattle = { $count ->
    [0] ng’ombe wengine wako
    [one] ng’ombe wengine wako mmoja
   *[other] ng’ombe wengine wako { $count }
  }
own-goats = { $count ->
    [0] mbuzi wako
    [one] mbuzi wako mmoja
   *[other] mbuzi wako { $count }
  }
own-sheep = { $count ->
    [0] kondoo wako
    [one] kondoo wako mmoja
   *[other] kondoo wako { $count }
  }
own-pigs = { $count ->
    [0] nguruwe wako
    [one] nguruwe wako mmoja
   *[other] nguruwe wako { $count }
  }
own-rabbits = { $count ->
    [0] sungura wako
    [one] sungura wako mmoja
   *[other] sungura wako { $count }
  }
own-indigenous_chickens = { $count ->
    [0] kuku wako
    [one] kuku wako mmoja
   *[other] kuku wako { $count }
  }
own-layers = { $count ->
    [0] kuku wa mayai wako
    [one] kuku wa mayai wako mmoja
   *[other] kuku wa mayai wako { $count }
  }
own-broilers = { $count ->
    [0] kuku wa nyama wako
    [one] kuku wa nyama wako mmoja
   *[other] kuku wa nyama wako { $count }
  }
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
caution-mould = Ukungu: usilishe. Malisho yenye ukungu yanaweza kuwatia mifugo sumu; muulize daktari wa mifugo.
caution-over-age = Siku yake imepita: angalia ukungu na harufu chachu. Tupa yenye shaka; kulisha iliyobaki kunahitaji sababu.
caution-held = Mbegu ya fungu hili imezuiwa: usiloweke wala kulisha; iweke kando na umuulize afisa.
caution-sorghum = Machipukizi ya mtama yanaweza kuua mifugo (sumu ya asidi ya prusiki). Uliza huduma za mifugo kwanza.
why-due = ilipaswa kufanyika { $days ->
    [one] jana
   *[other] siku { $days } zilizopita
  }
why-passed = muda wake wa leo umepita
why-moved = imehamishwa kutoka siku ya mapumziko
why-early = mavuno ya leo hayatoshi
soak-trays-more = { $trays ->
    [one] Trei moja zaidi
   *[other] Trei { $trays } zaidi
  }
soak-seed-more = Kilo { $kg } za mbegu zaidi
soak-left-out = { $trays ->
    [one] Trei moja haikupata nafasi.
   *[other] Trei { $trays } hazikupata nafasi.
  }
soak-for-trays_lost = { $trays ->
    [one] trei moja ilipotea siku ya { $day }
   *[other] trei { $trays } zilipotea, ya mwisho siku ya { $day }
  }
soak-for-trays_mouldy = { $trays ->
    [one] trei moja ina ukungu
   *[other] trei { $trays } zina ukungu
  }
soak-for-trays_taken_early = { $trays ->
    [one] trei moja ilivunwa mapema siku ya { $day }
   *[other] trei { $trays } zilivunwa mapema, ya mwisho siku ya { $day }
  }
soak-for-soak_missed = hakuna mbegu iliyolowekwa siku ya { $day }
soak-for-more_animals = wanyama sasa ni { $to }, si { $from } tena
soak-for-too_little = kilichopo kwenye trei ni kidogo kuliko mahitaji ya wanyama
footer = Malisho yenye ukungu na mbegu zilizotiwa dawa ni sumu: usilishe, muulize daktari wa mifugo. Ushauri wa ulishaji hutolewa na huduma za mifugo za eneo lako.
milk-title = Maziwa na mayai
milk-of = Maziwa, { $group }
milk-amount = Lita
litres-morning = Lita za asubuhi
litres-evening = Lita za jioni
which-milking = Kukamua kupi
session-day = siku nzima
session-morning = asubuhi
session-midday = mchana
session-evening = jioni
milk-once = Andika siku nzima kwa namba moja
milk-twice = Andika asubuhi na jioni peke yake
written-already = Imeandikwa tayari: lita { $amount }. Ukiandika namba mpya utaulizwa.
again = Namba mpya ni nini?
again-add = Inaongezwa kwenye iliyoandikwa
again-instead = Inachukua nafasi ya iliyoandikwa
sure = Namba ni sahihi kama nilivyoandika
sold-too = Andika pia kilichouzwa
milk-sold = Lita zilizouzwa
milk-price = Bei ya lita moja
eggs-sold = Mayai yaliyouzwa
eggs-price = Bei ya yai moja
counts-not = haihesabiwi: linahesabiwa la siku nzima, au la baadaye
by-text = Kwa ujumbe wa simu
milk-animals = Wanyama waliokamuliwa
eggs-of = Mayai, { $group }
eggs-amount = Mayai yaliyokusanywa
eggs-animals = Kuku waliopo
save = Hifadhi
saved = Imehifadhiwa.
saved-what = Imehifadhiwa: { $what }
taken-what = Imefutwa: { $what }
put-back = Irudishe
take-back-question = Ufute hii?
take-back-yes = Ndiyo, ifute
take-back-after = Haitahesabiwa tena. Inabaki kwenye historia, na unaweza kuirudisha.
harvest-without-kg = Mavuno haya hayana kilo. Pima malisho, kisha sahihisha: bila kilo mavuno hayawezi kukadiriwa.
no-milk-or-eggs = Hakuna mifugo wa maziwa au mayai waliorekodiwa. Muulize afisa wako.
error-title = Tafadhali angalia
error-try-again = Haikufaulu: { $detail }
page-not-there = Hakuna kitu kwenye anwani hii.
more-lines = { $count ->
    [one] Kazi moja zaidi ya shamba hili
   *[other] Kazi { $count } zaidi za shamba hili
  }
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
sheet-footer = Malisho yenye ukungu na mbegu zilizotiwa dawa ni sumu: usilishe, muulize daktari wa mifugo.
sheet-day-1 = Jumatatu
sheet-day-2 = Jumanne
sheet-day-3 = Jumatano
sheet-day-4 = Alhamisi
sheet-day-5 = Ijumaa
sheet-day-6 = Jumamosi
sheet-day-7 = Jumapili
sheet-feed = Lisha { $what } kwa { $group }
sheet-feed-held = Weka { $what } kando: usilishe
sheet-feed-kept = Lisha { $what } ya { $date } kwa { $group }, au uyatupe
sheet-throw-away = Tupa { $what }: fukia au tengeneza mboji mbali na mifugo
sheet-fodder-kg = malisho mabichi kilo { $kg }
sheet-fodder-trays = { $trays ->
    [one] malisho mabichi ya trei 1
   *[other] malisho mabichi ya trei { $trays }
  }
sheet-fodder = malisho yaliyovunwa
sheet-mould = ukungu umeonekana
sheet-short = { $group } watapungukiwa kilo { $kg } za malisho mabichi siku hii.
sheet-surplus = Kilo { $kg } za malisho mabichi zimezidi kwa { $group } siku hii.

# --- pages of all roles ---
# Navigation, frames, forms
nav = Kurasa
nav-batches = Mikupuo
nav-result = Matokeo yangu
nav-account = Hesabu ya mbegu
nav-round = Ziara
nav-farms = Mashamba
nav-phone = Kwenye simu hii
nav-month = Mwezi
nav-spoilage = Trei zilizoharibika
nav-seed = Mbegu
nav-office = Ofisi
nav-people = Watu
nav-totals = Jumla
back = Rudi
back-to-start = Kwenye ukurasa wa kwanza
optional = si lazima
show = Onyesha
more = Zaidi
older = Za awali
yes = ndiyo
no = hapana
open = haijakamilika
not-known = haijulikani
correct = Sahihisha
note = Maelezo
day = Siku
when = Lini
month = Mwezi
change = Badiliko
stale = Mtu mwingine amebadilisha hii wakati huo. Ulichoandika kiko kwenye sehemu; ilivyo sasa kimeandikwa kando. Linganisha, kisha hifadhi tena.
date = { $day } { $month } { $year }
month-of-year = { $month } { $year }
moment = { $date }, { $time }
month-1 = Januari
month-2 = Februari
month-3 = Machi
month-4 = Aprili
month-5 = Mei
month-6 = Juni
month-7 = Julai
month-8 = Agosti
month-9 = Septemba
month-10 = Oktoba
month-11 = Novemba
month-12 = Desemba
month-short-1 = Jan
month-short-2 = Feb
month-short-3 = Mac
month-short-4 = Apr
month-short-5 = Mei
month-short-6 = Jun
month-short-7 = Jul
month-short-8 = Ago
month-short-9 = Sep
month-short-10 = Okt
month-short-11 = Nov
month-short-12 = Des
# What is refused, by code, or by code and field. English pages say it in the words of the rule
# itself, which are nearer to the case; what stands here is the meaning for other languages.
refused-type = Andika kwa namna inayotakiwa.
refused-type-photos = Chagua picha ya JPEG, PNG au WebP isiyo kubwa mno: { $file }.
refused-type-month = Andika mwezi kama 2026-03.
refused-type-from = Andika mwezi kama 2026-03, au siku kama 2026-03-31.
refused-type-to = Andika mwezi kama 2026-03, au siku kama 2026-03-31.
refused-type-day = Andika siku kama 2026-03-31.
refused-type-date = Andika siku kama 2026-03-31.
refused-type-skip = Andika namba kamili, 0 au zaidi.
refused-type-line = Pakia ukurasa upya: kazi hii haipo kwenye orodha.
refused-day_full = Kundi hili la mifugo lina rekodi nyingi mno za siku hii. Sahihisha au futa mojawapo.
refused-not_empty = Tayari kuna kitu hapo: hakuna kinachofutwa kwa kuandikwa juu yake.
refused-not_a_backup = Hii si nakala ya akiba ya programu hii, au imeharibika.
refused-encrypted = Nakala ya akiba imefungwa kwa siri: ufunguo wake unahitajika.
refused-damaged = Hifadhidata au nakala imeharibika. Rejesha nakala ya akiba ya mwisho.
refused-written = Kuna anayeandika kwa sasa. Simamisha mfumo kwanza.
refused-points = Picha ni kubwa mno kuonyeshwa kwenye simu: chagua ndogo zaidi.
refused-range = Thamani iko nje ya mipaka: iangalie tena.
refused-range-kg = Andika zaidi ya kilo 0.
refused-range-amount = Andika zaidi ya 0.
refused-range-change_kg = Andika badiliko lisilo kilo 0.
refused-range-salvage_value = Andika thamani isiyozidi gharama.
refused-range-tray_load_kg = Andika kilo 0.05 hadi 20 kwa trei.
refused-range-dry_matter_percent = Andika zaidi ya 0 %.
refused-range-head = Andika mnyama 1 au zaidi.
refused-range-value = Andika { $low } hadi { $high }.
refused-range-from = Chagua kipindi kifupi zaidi, kinachoanza kabla ya kuisha.
refused-range-to = Chagua mwisho ulio baada ya mwanzo, na kipindi kifupi zaidi.
refused-required = Jaza sehemu hii.
refused-required-trays = Andika idadi ya trei, au kilo kama trei hazikuhesabiwa.
refused-required-kg = Andika kilo; malisho yasiyopimwa andika kwa trei au makadirio.
refused-required-cause = Chagua sababu; kama huna uhakika chagua nyingine.
refused-required-finding = Sema kilichopatikana kabla ya kuliachilia fungu.
refused-required-seen_on = Andika siku ambayo shamba lilitembelewa.
refused-required-email = Andika barua pepe au namba ya simu ya kuingilia.
refused-required-animal_class = Chagua mifugo, au acha wazi sehemu zilizo chini.
refused-required-kg_per_animal_day = Andika kilo kwa mnyama kwa siku, au usichague chakula.
refused-required-feed_id = Chagua chakula, au acha kilo wazi.
refused-required-files = Chagua faili moja au zaidi ya CSV.
refused-required-photo = Tuma faili la picha.
refused-required-why = Sema kwa nini inafutwa.
refused-required-change_reason = Sema kwa nini inasahihishwa.
refused-required-at = Sema ilifanyika lini.
refused-required-version = Pakia ukurasa upya.
refused-combination = Sehemu hizi haziendani: sahihisha mojawapo.
refused-combination-crop = Fungu la mbegu ni la zao jingine: sahihisha mojawapo.
refused-combination-cause = Acha wazi: sababu ni ya trei zilizotupwa tu.
refused-combination-germinated_percent = Acha wazi: kuota huhesabiwa mbegu zinapotandazwa.
refused-combination-weekday = Chagua siku ya wiki au tarehe moja, si zote mbili.
refused-combination-watering = Acha wazi: ni kumwagilia tu kunakohesabiwa kwa siku.
refused-combination-ended_on = Andika vyote viwili, siku na jinsi ilivyoisha, au uache vyote.
refused-combination-outcome = Andika vyote viwili, siku na jinsi ilivyoisha, au uache vyote.
refused-combination-answered_on = Andika vyote viwili, jibu na siku yake, au uache vyote.
refused-combination-answer = Andika vyote viwili, jibu na siku yake, au uache vyote.
refused-combination-visit_id = Chagua ziara au tukio la mkupuo, moja tu.
refused-combination-member_id = Taja mwanachama kwa kazi ya mwanachama tu; kwa kazi nyingine acha wazi.
refused-combination-longitude = Andika latitudo na longitudo zote mbili, au uache zote.
refused-combination-latitude = Andika latitudo na longitudo zote mbili, au uache zote.
refused-combination-animal_class = Chagua aina ya mifugo pale tu kiwango kinapotofautiana kwa aina; hapo ni lazima.
refused-order = Tarehe hazifuatani: sahihisha mojawapo.
refused-order-ended_at = Andika muda ulio baada ya mwanzo.
refused-order-answered_on = Andika siku isiyo kabla ya kuulizwa.
refused-order-released_on = Andika siku isiyo kabla ya kuzuiwa.
refused-order-seen_on = Andika siku isiyo kabla ya alama ya tahadhari kuwekwa.
refused-order-cleared_on = Andika siku isiyo kabla ya alama ya tahadhari kuwekwa.
refused-order-left_on = Andika siku isiyo kabla ya kujiunga.
refused-order-last_day = Andika siku isiyo kabla ya siku ya kwanza.
refused-order-valid_to = Andika siku isiyo kabla ya thamani kuanza kutumika.
refused-order-disposed_on = Andika siku isiyo kabla ya kuanza kutumika.
refused-impossible = Haiwezekani: angalia namba tena.
refused-impossible-animal_group_id = Chagua kundi la mifugo linalotoa maziwa, au kuku kwa mayai.
refused-impossible-litres = Ni zaidi ya lita 100 kwa mnyama kwa siku: angalia lita na idadi ya wanyama.
refused-impossible-sold_litres = Yaliyouzwa, ya nyumbani na ya ndama kwa pamoja yanazidi lita zote.
refused-impossible-eggs = Ni zaidi ya mayai 1.5 kwa kuku kwa siku: angalia mayai na idadi ya kuku.
refused-impossible-cracked = Andika idadi isiyozidi mayai yaliyokusanywa.
refused-impossible-sold_eggs = Andika idadi isiyozidi mayai yaliyokusanywa.
refused-length = Urefu wa maandishi haufai.
refused-length-password = Angalau herufi 10, au kwa mwanachama PIN ya tarakimu 6 hadi 9.
refused-length-change_reason = Andika herufi 1 hadi 500.
refused-length-reason = Andika herufi 1 hadi 500.
refused-characters = Ondoa alama zisizo herufi, kama zile za kunakili vibaya.
refused-choice = Chagua mojawapo ya zilizotajwa.
refused-precision = Tarakimu baada ya nukta ni nyingi mno.
refused-date_like = Tarakimu hizi zinasomeka kama tarehe au mwaka: chagua nyingine.
refused-common = Hii hukisiwa kwa urahisi: chagua nyingine, kwa mfano maneno matatu yasiyohusiana.
refused-unknown_reference = Hakuna rekodi kama hiyo unayoweza kutumia: chagua nyingine au angalia jina lake.
refused-unknown_reference-member_number = Hakuna mwanachama mwenye namba hii: itafute kwenye ukurasa wa shamba.
refused-unknown = Haijulikani: angalia ulichoandika.
refused-unknown_field = Hii haipokelewi hapa: iondoe.
refused-unknown_parameter = Hii haipokelewi hapa: rudi nyuma uchague tena.
refused-unknown_code = Omba namba mpya: hii haijulikani, imetumika au ni ya zamani.
refused-future = Muda huu bado haujafika: andika siku au saa isiyozidi sasa, na angalia saa ya kifaa.
refused-future-month = Chagua mwezi uliokwisha kuanza.
refused-future-line = Hii ni kazi ya siku ijayo: iandike ikifanyika.
refused-running = Mwezi huu bado haujaisha: chagua mwezi uliokwisha.
refused-unit = Angalia kipimo cha namba.
refused-unit-temperature_c = Andika nyuzi Selsiasi (-30 hadi 55); hii inaonekana kuwa Farenhaiti: toa 32 kisha zidisha kwa 5/9.
refused-unit-humidity_percent = Andika asilimia (0 hadi 100), si sehemu: 0.6 huandikwa 60.
refused-taken = Tayari inatumika: chagua nyingine.
refused-taken-email = Mtu mwingine huingia kwa hii: kila mtu anahitaji yake.
refused-taken-phone = Mtu mwingine huingia kwa hii: kila mtu anahitaji yake.
refused-outside_reach = Hii iko nje ya eneo lako: chagua iliyo ndani yake.
refused-outside_reach-role = Mwendeshaji peke yake ndiye anayeweka au kubadilisha mwendeshaji.
refused-other_farm = Hii ni ya shamba jingine: chagua ya shamba hilihili.
refused-outside = Hakuna jibu ndani ya mipaka hii: badilisha mmojawapo.
refused-unreliable = Namba hizi hazitoi jibu la uhakika: badilisha mpaka kidogo.
refused-mould = Ukungu: usilishe. Malisho yenye ukungu yanaweza kuwatia mifugo sumu; muulize daktari wa mifugo. Kama yamelishwa, andika kwa nini.
refused-over_age = Siku yake imepita: malisho ya zamani huharibika. Angalia kila trei, usilishe yenye harufu au ukungu; kama yamelishwa, andika kwa nini.
refused-held = Mbegu ya fungu hili imezuiwa: usiloweke, usilishe wala kuigawa; iweke kando na umuulize afisa.
refused-treated_seed = Nafaka ya kulisha mifugo isiyo na dawa tu: mbegu yenye dawa ni sumu. Usiiloweke wala kuilisha.
refused-sorghum = Machipukizi ya mtama yanaweza kuua mifugo (asidi ya prusiki): chagua zao jingine mpaka meneja aruhusu hapa, baada ya kuuliza huduma ya mifugo.
refused-id_version = Pakia ukurasa upya; kwenye faili acha id wazi.
refused-format = Andika kwa namna inayotakiwa.
refused-format-email = Andika anwani kama amina@example.org.
refused-format-phone = Andika tarakimu 6 hadi 15, ukianza na + na namba ya nchi.
refused-role = Chagua mtu ambaye kazi yake ni afisa.
refused-repeated = Imeandikwa mara mbili: andika mara moja.
refused-fixed = Hii haibadiliki: futa rekodi na uandike mpya.
refused-tree = Eneo haliwezi kuwa ndani yake lenyewe: chagua jingine.
refused-something = Angalia sehemu hii, kisha jaribu tena.
refused-withdrawn = Rekodi hii imefutwa: andika mpya.
refused-id_taken = Hii ni ya rekodi nyingine: pakia ukurasa upya.
refused-feed_bought = Kwa rekodi, chakula hiki kilinunuliwa mwezi huo: chagua chakula au mwezi mwingine, au sahihisha ununuzi huo.
refused-feed_left = Kwa rekodi, kiasi kingine cha chakula hiki kilibaki siku ya kwanza ya mwezi huo: sahihisha au futa rekodi hiyo kwanza.
refused-flagged = Alama ya tahadhari ya trei zilizoharibika imetaja mkupuo huu: mwombe afisa wako aufute.
refused-in_use = Rekodi nyingine zinaitegemea: zifute au zisahihishe hizo kwanza.
refused-work_recorded = Kazi hii imeandikwa kwa namba nyingine: sahihisha rekodi hiyo.
refused-can_not_spread = Hifadhidata hii huweka majedwali yote kwenye mashine moja.
refused-left = Mwanachama huyu ameondoka: namba huunganishwa na wanachama pekee.
refused-many = Wanachama wengi mno wanatumia namba hii: funga mmoja kwanza.
refused-no_carrier = Hakuna modemu wala kampuni inayotuma ujumbe kwa ushirika huu: muulize anayeendesha seva.
refused-over = Andika siku ambayo haijapita.
refused-telephone = Andika namba ya simu pamoja na namba ya nchi, kama +255700000101.
refused-too_many = Zimekuwa nyingi mno: funga moja kwanza.
refused-photo_stored = Picha hii ina faili jingine: weka picha mpya.
refused-months = Andika miezi kutoka 1 hadi 12, kila mmoja mara moja, ikitenganishwa kwa mkato: 3,4,5,11.
refused-month_closed = Mwezi umefungwa: soma ripoti yake ilivyotumwa.
refused-month_order = Miezi hufungwa kwa mfuatano: funga ya awali kwanza.
refused-inactive = Mtu huyu haruhusiwi kuingia: mruhusu kwanza.
refused-several_cooperatives = Kuna vyama kadhaa: sema kipi.
refused-second_factor = Namba ya uthibitisho wa pili huulizwa.
refused-second_factor_there = Uthibitisho wa pili upo tayari: uondoe kwanza.
refused-wrong_passkey = Ufunguo haukukubaliwa: jaribu tena, au andika namba.
refused-no_passkey_address = Funguo za kuingia zinahitaji anwani ya https, au localhost.
refused-second_factor_first = Weka namba kwanza: funguo za kuingia huwa pamoja nazo.
refused-passkeys_full = Funguo za kuingia ni nyingi mno: ondoa moja kwanza.
refused-passkey_there = Ufunguo huu upo tayari, au funguo ni nyingi mno.
refused-choose_cooperative = Uko katika vyama kadhaa: chagua kimoja.
refused-files = Mafaili hayawezi kuandikwa au kusomwa hapo: chagua folda nyingine.
refused-file_before = Halijajaribiwa: sahihisha { $file } kwanza.
refused-column_twice = Safuwima hii ipo mara mbili: ondoa moja.
refused-column_unknown = Safuwima hii haijulikani; zinazojulikana ni { $known }.
refused-column_missing = Ongeza safuwima hii: kila safu inaihitaji.
refused-cells = Seli { $got } wakati kichwa kina { $want }: mstari unaweza kuwa umekatika.
refused-other_cooperative = Rekodi hizi zinaingizwa kwenye chama kingine.
refused-imported_before = Rekodi hii ipo tayari kwa thamani nyingine: isahihishe kwenye ukurasa wake, ili historia ibaki.
refused-event_time = Andika muda wa kile kilichorekodiwa.
refused-sheet_too_large = Faili hili ni kubwa mno kusomwa kwa mara moja. Ligawe mara mbili.
refused-workbook_old = Kitabu hiki ni cha mtindo wa zamani, au kina neno la siri. Kihifadhi kama XLSX bila neno la siri.
refused-workbook_broken = Kitabu hiki hakisomeki. Kihifadhi tena kama XLSX.
refused-columns_many = Mstari huu una safuwima nyingi mno. Ondoa zilizo upande wa kulia.
refused-no_table = Hili si jedwali. Chagua faili la XLSX au CSV.
refused-two_days = Inaweza kuwa { $one } au { $other }. Sema kipi kinatangulia, siku au mwezi.
refused-day_order = Siku hii imeandikwa kwa mpangilio tofauti na faili. Iandike kama 2026-03-31.
refused-two_readings = Inaweza kuwa { $whole } au { $part }: andika mojawapo, au sema koma na nukta zina maana gani kwenye faili.
refused-several_of_name = Rekodi { $count } zina jina hili. Andika namba yake.
refused-column_open = Chagua safuwima hii iende wapi, au iache.
refused-days_open = Sema kipi kinatangulia, siku au mwezi.
refused-mark_open = Sema koma na nukta zina maana gani.
refused-quotes = Seli yenye alama za kunukuu haijafungwa: faili linaweza kuwa limekatika; linakili tena.
refused-empty = Faili ni tupu: mstari wa kwanza lazima utaje safuwima.
wanted-ref = Chagua iliyorekodiwa, au andika namba yake.
wanted-text = Herufi zisizozidi { $max }.
wanted-code = Jina fupi la herufi 1 hadi 40.
wanted-choice = Zilizopo: { $of }.
wanted-whole = Namba kamili kuanzia { $low } hadi { $high }.
wanted-decimal = Namba kuanzia { $low } hadi { $high }, tarakimu baada ya nukta zisizidi { $places }.
wanted-money = Kiasi cha fedha, 0 au zaidi, kwa nukta.
wanted-date = Siku kama 2026-01-31; angalia mwaka.
wanted-instant = Siku na saa kama 2026-01-31 06:30; angalia mwaka.
wanted-bool = Ndiyo au hapana; kwenye faili: yes, no.
wanted-currency = Kifupi cha fedha kama TZS.
wanted-zone = Eneo la saa kama Africa/Dar_es_Salaam.
wanted-year = Mwaka kama 1984.
problem-malformed = Kilichotumwa hakisomeki: pakia ukurasa upya.
problem-cursor = Anza ukurasa wa kwanza wa orodha.
problem-gone = Anza ukurasa wa kwanza wa orodha.
problem-unauthenticated = Ingia kwanza; hakuna kinachopotea.
problem-wrong_password = Namba au nenosiri si sahihi: angalia zote mbili.
problem-method_not_allowed = Hii haiwezekani kwenye anwani hii: rudi nyuma.
problem-not_acceptable = Hii haipatikani kwa namna hiyo.
problem-conflict = Inapingana na kilichopo: angalia rekodi tena.
problem-too_slow = Ilikuja polepole mno: tuma tena penye mtandao mzuri zaidi.
problem-too_large = Faili ni kubwa mno: chagua dogo zaidi.
problem-media_type = Chagua picha ya JPEG, PNG au WebP.
problem-invalid = Kuna sehemu zinazohitaji kuangaliwa.
problem-precondition_required = Pakia ukurasa upya.
problem-internal = Kuna hitilafu upande wetu: jaribu tena baadaye, au iambie ofisi yako.
problem-restored = Rekodi zimerejeshwa kutoka nakala ya akiba. Pakia ukurasa upya.
problem-reads_only = Seva hii inaonyesha kumbukumbu tu, na hakuna kilichohifadhiwa. Fungua seva kuu na utume huko.
problem-damaged = Hifadhidata imeharibika. Kujaribu tena hakusaidii: mwambie anayeendesha mfumo arejeshe nakala ya akiba ya mwisho. Kilicho kwenye simu hii kinabaki.
problem-unavailable = Mfumo una shughuli nyingi au haupo; hakuna kilichopotea. Jaribu tena.
# Fields as files and addresses name them
field-active = anaruhusiwa kuingia
field-amount = kiasi cha fedha
field-animal_class = aina ya mifugo
field-animal_group = kundi la mifugo
field-animals_in_milk = wanyama waliokamuliwa
field-area = eneo
field-at = lini
field-batch = mkupuo
field-birth_year = mwaka wa kuzaliwa
field-calf_litres = maziwa ya ndama, lita
field-category = aina ya gharama
field-cause = sababu
field-change_kg = badiliko, kg
field-code = namba
field-passkey = ufunguo wa kuingia
field-consent = ridhaa
field-consent_on = siku ya ridhaa
field-cost = gharama
field-cracked = mayai yaliyopasuka
field-crop = zao
field-crude_protein_percent = protini, %
field-currency = fedha
field-date = siku
field-discard_cause = sababu ya kutupa
field-discarded_at = ilitupwa lini
field-disposed_on = ilitolewa lini
field-dry_matter_percent = uzito mkavu, %
field-eggs = mayai
field-email = barua pepe
field-event = tukio
field-farm = shamba
field-fed_at = ililishwa lini
field-fed_kg = yaliyolishwa, kg
field-fed_reason = sababu ya kulisha
field-feed = chakula
field-feed_grade = nafaka ya kulisha mifugo
field-finding = kilichopatikana
field-first_day = siku ya kwanza
field-flock_age_weeks = umri wa kuku, wiki
field-fodder_started_on = malisho ya chipukizi yalianza lini
field-germinated_percent = zilizoota, %
field-germination_percent = kuota, %
field-harvest_age_days = umri wa kuvuna, siku
field-harvested_at = ilivunwa lini
field-harvested_kg = yaliyovunwa, kg
field-head = idadi ya wanyama
field-held_from = kuzuiwa kuanzia
field-hens_present = kuku waliopo
field-home_litres = maziwa ya nyumbani, lita
field-humidity_percent = unyevu, %
field-in_service_on = ilianza kutumika lini
field-is_grown = inakuzwa
field-joined_on = alijiunga lini
field-kg = kilo
field-kg_per_animal_day = kilo kwa mnyama kwa siku
field-language = lugha
field-last_day = siku ya mwisho
field-latitude = latitudo
field-left_on = aliondoka lini
field-life_months = miezi ya matumizi
field-litres = lita
field-longitude = longitudo
field-mean_days_in_milk = siku tangu kuzaa, wastani
field-member = mwanachama
field-mould_seen = ukungu umeonekana
field-name = jina
field-note = maelezo
field-number = namba ya uanachama
field-officer = afisa
field-paid_by = njia ya malipo
field-parent = eneo kubwa
field-payment = malipo
field-person = mtu
field-phone = simu
field-place = mahali
field-price = bei
field-price_per_egg = bei ya yai
field-price_per_litre = bei ya lita
field-reason = sababu
field-recorded_on = iliandikwa lini
field-released_on = liliachiliwa lini
field-role = kazi
field-salvage_value = thamani itakayobaki
field-seed_kg = mbegu, kg
field-seed_lot = fungu la mbegu
field-session = mkamuo
field-sex = jinsia
field-shed = banda
field-soaked_at = ililowekwa lini
field-sold_eggs = mayai yaliyouzwa
field-sold_litres = maziwa yaliyouzwa, lita
field-spread_at = ilitandazwa lini
field-started_on = ilianza lini
field-stock = jibu
field-supplier = muuzaji
field-temperature_c = joto, °C
field-transport = usafiri
field-tray_load = uzito wa trei
field-tray_load_kg = mbegu kwa trei, kg
field-tray_places = nafasi za trei
field-trays = trei
field-trays_discarded = trei zilizotupwa
field-trays_harvested = trei zilizovunwa
field-trays_spread = trei zilizotandazwa
field-untreated = haina dawa
field-valid_from = inatumika kuanzia
field-valid_to = inatumika hadi
field-value = thamani
field-water_source = chanzo cha maji
field-weekday = siku ya wiki
field-zone = eneo la saa
field-batch_event-reason = kwa nini
field-advice = ushauri
field-ended_at = iliisha lini
field-started_at = ilianza saa ngapi
field-energy_mj_per_kg = nishati, MJ kwa kilo
field-lead_time_days = siku za kusubiri mzigo
field-mould_trays = trei zenye ukungu
field-question = swali
field-source = chanzo cha thamani
field-topic = mada
field-trainer = mkufunzi
field-training = mafunzo
field-month = mwezi
field-skip = kuruka
field-to = hadi
field-from = kuanzia
# Days, seed, animals
seed = mbegu
crop = Zao
seed-lot = Fungu la mbegu
seed-kg = Mbegu, kg
kg = kg
trays = Trei
count-kg = kilo { $kg }
count-trays = { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  }
age-days = siku ya { $days }
class-dairy_cows = ng’ombe wa maziwa
class-other_cattle = ng’ombe wengine
class-goats = mbuzi
class-sheep = kondoo
class-pigs = nguruwe
class-rabbits = sungura
class-indigenous_chickens = kuku wa kienyeji
class-layers = kuku wa mayai
class-broilers = kuku wa nyama
stage-soaking = kwenye maji
stage-incubating = inachipua
stage-on_trays = kwenye trei
stage-ready = tayari kuvunwa
stage-overdue = imepita siku yake
stage-finished = umekwisha
stage-until = { $stage }; utavunwa { $date }
event-soaked = Imelowekwa
event-spread = Imetandazwa
event-watered = Imemwagiliwa
event-harvested = Imevunwa
event-fed_out = Imelishwa
event-discarded = Imetupwa
trace-what-bought = imenunuliwa
trace-what-issued = imegawiwa
trace-what-adjusted = mbegu iliyopo imesahihishwa
trace-what-held = imezuiwa
trace-what-released = imeachiliwa
trace-what-soaked = imelowekwa
trace-what-spread = imetandazwa
trace-what-watered = imemwagiliwa
trace-what-harvested = imevunwa
trace-what-fed_out = imelishwa
trace-what-discarded = imetupwa
trace-date = Siku
trace-what = Nini
trace-farm = Shamba
trace-batch = Mkupuo
trace-animal-group = Mifugo
trace-kg = kg
trace-trays = Trei
# Cautions
caution-rations = Ushauri wa mgao wa chakula na mifugo wagonjwa ni wa huduma ya mifugo ya eneo lako. Usilishe malisho yenye ukungu.
caution-climate = Joto na unyevu: ukungu hukua haraka katika hewa hii. Ruhusu hewa ipite, punguza maji jioni, na kagua kila trei.
treated-seed = Nafaka ya kulisha mifugo isiyo na dawa tu: mbegu yenye dawa ni sumu na haikubaliwi.
sorghum-about = Machipukizi ya mtama yana asidi ya prusiki inayoua mifugo: hayaruhusiwi mpaka meneja aruhusu hapa, baada ya kuuliza huduma ya mifugo.
# Batches
batches-title = Mikupuo ya { $farm }
batches-none = Hakuna mkupuo uliorekodiwa bado.
batch-of = mkupuo wa { $date }
seed-of-crop = kilo { $kg } za { $crop }
trays-of-batch = { $spread ->
    [one] Trei 1 imetandazwa
   *[other] Trei { $spread } zimetandazwa
  }, { $harvested } zimevunwa, { $discarded } zimepotea
harvested-kg = Kilo { $kg } za malisho mabichi zimevunwa
for-group = Kwa
in-shed = Banda
seed-soaked-kg = Mbegu kavu iliyolowekwa, kg
trays-spread = Trei zilizotandazwa
trays-harvested = Trei zilizovunwa
trays-lost = Trei zilizopotea
trays-lost-percent = Trei zilizopotea, %
fresh-kg = Malisho mabichi yaliyovunwa, kg
fresh-expected-kg = Malisho mabichi yaliyotarajiwa, kg
fed-kg = Yaliyolishwa, kg
germinated-percent = Mbegu zilizoota wakati wa kutandaza, %
what-happened = Kilichotokea
batch-record = Andika au sahihisha
timeline-title = Mkupuo uko wapi sasa?
timeline-text = Siku tangu kulowekwa: imetandazwa siku ya { $spread }, huvunwa kuanzia siku ya { $ready }; trei zilizopotea: { $lost }.
timeline-axis = siku tangu kulowekwa
now = sasa
event = Tukio
cause-of-loss = Sababu ya trei kupotea
mould-trays = Trei zenye ukungu
mould-trays-hint = Zitupe hizi kabla ya kulisha zilizobaki
mould-seen = Ukungu umeonekana
kg-hint = Mbegu kavu wakati wa kuloweka, vinginevyo malisho mabichi
reason-in-spite = Sababu, kama ilifanyika licha ya tahadhari
to-correct = Kusahihisha
correction-about = Thamani za awali zinabaki kwenye historia. Acha sehemu wazi ili kuondoa thamani yake.
why-corrected = Kwa nini inasahihishwa
batch-new = Mkupuo mpya wa { $farm }
soaked-at = Imelowekwa saa
soaked-on = Imelowekwa tarehe
lot-in-stock = { $lot } (kilo { $kg } hapa)
# Result of a farm
result-title = Matokeo ya { $farm }
saving-of = Akiba ya { $month }
saving = Akiba
saving-none = Shamba hili halimo kwenye ripoti ya mwezi huo.
saving-saved = { $amount } zimeokolewa kwenye chakula cha mifugo.
saving-lost = Hasara ya { $amount }: malisho ya chipukizi yaligharimu zaidi ya yalivyookoa.
saving-between = Kiasi halisi huenda ni kati ya { $low } na { $high }.
saving-unclear = Bado haijulikani. Kwa rekodi akiba ni { $amount }, lakini huenda ni bahati tu; bado hatuna uhakika.
saving-missing = Namba inasubiri: { $what }.
saving-status-estimated = Namba inaweza kutolewa.
saving-status-not_started = Malisho ya chipukizi hayajaanza
saving-status-start_month = Mwezi wa kwanza wa malisho ya chipukizi: hakuna namba
saving-status-missing = Haijulikani: kuna kisichorekodiwa
saving-chart = Kiasi gani kiliokolewa kila mwezi?
saving-chart-text = Akiba ya kila mwezi katika miezi { $months } iliyopita, na kiasi halisi huenda ni kati ya nini na nini (uhakika wa 95 %). Miezi isiyo na namba imeachwa; chini ya sifuri ni hasara. * ilirekebishwa baada ya kufungwa.
start-of-fodder = mwanzo
baseline-cost = Chakula ambacho kingeliwa bila malisho ya chipukizi, kwa bei za mwezi huu
feed-cost = Chakula kilichonunuliwa na kuliwa
seed-cost = Mbegu iliyolowekwa
other-cost = Gharama nyingine
depreciation = Uchakavu wa banda na trei
saving-per-litre = Akiba kwa lita ya maziwa
saving-per-egg = Akiba kwa yai
report-to-print = Ripoti ya kuchapisha (PDF)
output-title = Je, maziwa au mayai yamebadilika?
output-none = Hakuna maziwa wala mayai yaliyorekodiwa.
output-of-milk = Maziwa kwa ng’ombe kwa siku
output-of-eggs = Mayai kwa kuku kwa siku
output-unit-milk = lita kwa ng’ombe kwa siku
output-unit-eggs = mayai kwa kuku kwa siku
output-chart-text = Mwezi kwa mwezi; miezi isiyo na rekodi imeachwa. Mstari peke yake hauonyeshi kama malisho ya chipukizi yamesaidia: soma sentensi iliyo chini.
output-higher = { $what } yameongezeka kwa { $percent } % kuliko ambavyo yangekuwa, kati ya { $low } % na { $high } %.
output-lower = { $what } yamepungua kwa { $percent } % kuliko ambavyo yangekuwa, kati ya { $low } % na { $high } %.
output-unclear = { $what }: bado haijulikani kama yamebadilika, kati ya { $low } % na { $high } %.
output-cannot-tell = { $what }: bado haijulikani. { $why }
output-basis = Kutokana na rekodi { $before } kabla ya kuanza na { $after } baada yake, zikilinganishwa na mashamba ambayo hayakuwa yameanza miezi hiyo.
output-status-not-started = Malisho ya chipukizi hayajaanza.
output-status-no-pre-data = Hakuna rekodi za kabla ya kuanza.
output-status-insufficient-pre = Yanayojulikana kabla ya kuanza ni machache: rekodi { $before } katika { $months ->
    [one] mwezi 1
   *[other] miezi { $months }
  }.
output-status-insufficient-post = Yanayojulikana baada ya kuanza ni machache: rekodi { $after } katika { $later ->
    [one] mwezi 1
   *[other] miezi { $later }
  }.
output-status-no-controls = Hakuna shamba ambalo halijaanza la kulinganisha.
output-status-estimated = Makadirio yanaanzia chini ya sifuri hadi juu yake.
output-programme-unknown = Mashamba yanayoweza kulinganishwa ni machache mno.
output-basis-settled = Kutokana na rekodi { $before } kabla ya kuanza na { $after } baada yake. Ni dhaifu zaidi: hakuna shamba lililokuwa bado linasubiri, kwa hiyo linalinganishwa na mashamba yaliyoanza angalau miezi 7 kabla. Inadhaniwa kuwa hayo hayabadiliki zaidi.
output-sure = Mara { $sure } kati ya 100 za namna hii, jibu la kuongezeka au kupungua huwa sahihi.
output-kept = Ilisemwa hapo kabla na imebaki, ingawa sasa makadirio yanagusa sifuri.
output-left-out = { $days ->
    [one] Siku 1 imeachwa
   *[other] Siku { $days } zimeachwa
  }: ni zaidi ya mara nne, au chini ya robo, ya kile ambacho shamba hili huandika. Tafadhali angalia rekodi.
output-shifted = Katika { $month } siku nyingi ziko mbali na kile ambacho shamba hili huandika. Je, kipimo kingine kilitumika?
output-half-days = { $days ->
    [one] Siku 1 ina
   *[other] Siku { $days } zina
  } mkamuo mmoja tu na hazihesabiwi hapa. Andika pia mkamuo wa pili, au siku nzima.
output-stage-milk = Siku tangu kuzaa hazipo katika miezi mingi. Zikiwepo, jibu huwa imara zaidi: ziandike mara moja kwa mwezi.
output-stage-eggs = Umri wa kuku haupo katika miezi mingi. Ukiwepo, jibu huwa imara zaidi: uandike mara moja kwa mwezi.
output-status-check-level = Rekodi zinaruka hadi mara { $factor } ya kiwango cha zamani katika { $month } na kubaki hapo. { $likely } Sahihisha rekodi, au kubali badiliko kwenye orodha ya mapitio.
level-cause-halved = Labda mkamuo mmoja kati ya miwili, au nusu ya mifugo, ndio ulioandikwa.
level-cause-doubled = Labda kitu kilihesabiwa mara mbili, au mifugo iliongezwa.
level-cause-ten_times = Labda nukta ya desimali ilisahauliwa.
level-cause-tenth = Labda nukta ya desimali iliwekwa mahali pasipo pake.
level-cause-hundred_times = Labda nukta ya desimali ilisahauliwa.
level-cause-hundredth = Labda nukta ya desimali iliwekwa mahali pasipo pake.
level-cause-thirty_times = Labda mayai yaliandikwa mahali ambapo trei za 30 ziliandikwa hapo kabla.
level-cause-thirtieth = Labda trei za 30 ziliandikwa badala ya mayai.
level-cause-unknown = Labda kundi lingine la mifugo lilihesabiwa, au mifugo iliuzwa.
output-see = Badiliko la maziwa na mayai
output-about = Kila shamba linalinganishwa na lenyewe kabla ya kuanza, na na mashamba ambayo hayakuwa yameanza miezi hiyo. Kutojua bado hakumaanishi kuwa hakuna kilichobadilika. Andika pia siku mbaya: zikiandikwa siku nzuri tu, hakuna anayeweza kuliona hapa.
output-few-comparisons = Mashamba machache tu yalikuwa bado yanasubiri, kwa hiyo sehemu ya makadirio inatokana na hesabu, si rekodi.
output-by-area = Maeneo mazima yalianza pamoja. Ukame au bei ya eneo moja huweza kuonekana kama kazi ya malisho ya chipukizi; soma namba kwa uangalifu.
output-area-unknown = Kinachopata eneo moja katika mwezi hakimo katika makadirio: mashamba yanayosubiri katika maeneo mawili ni machache mno.
output-apart = Njia ya pili inasema jambo lingine. Usitumie namba yoyote kabla sababu haijajulikana.
output-start-low = Mashamba yalianza mazao yakiwa chini. Miezi mitatu kabla ya kuanza imeachwa, kwa kuwa mazao yangepanda yenyewe.
output-start-high = Mashamba yalianza mazao yakiwa juu. Miezi mitatu kabla ya kuanza imeachwa.
output-short = { $percent } % ({ $low } hadi { $high } %)
cannot-tell-yet = bado haijulikani
output-without-title = Mashamba yasiyo na namba:
output-without-check_level = yamezuiwa: kiwango kinaruka
output-without-not_started = hayajaanza
output-without-no_pre_data = hakuna rekodi kabla ya kuanza
output-without-insufficient_pre = machache mno kabla ya kuanza
output-without-insufficient_post = machache mno baada ya kuanza
output-without-no_controls = hakuna mashamba yanayosubiri ya kulinganisha
output-without-estimated = yamekadiriwa
output-held = Yamezuiwa: { $farms ->
    [one] shamba 1
   *[other] mashamba { $farms }
  }
output-lower-farms = Yamepungua: { $farms ->
    [one] shamba 1
   *[other] mashamba { $farms }
  }
output-higher-farms = Yameongezeka: { $farms ->
    [one] shamba 1
   *[other] mashamba { $farms }
  }
output-more = Na mengine { $farms }.
output-weaker = Majibu dhaifu zaidi
output-settled = { $farms ->
    [one] Shamba 1 linalinganishwa
   *[other] Mashamba { $farms } yanalinganishwa
  } na mashamba yaliyoanza angalau miezi 7 kabla, kwa kuwa hakuna shamba lililokuwa linasubiri. Inadhaniwa kuwa hayo hayabadiliki zaidi.
output-drift-steady = Yakiangaliwa dhidi ya mashamba yanayosubiri, hayabadiliki.
output-drift-not_known = Kama ni hivyo haiwezi kujulikana.
output-drift-drifting = Yakiangaliwa dhidi ya mashamba yanayosubiri, yanabadilika; kwa hiyo hakuna shamba linalojibiwa hivyo.
output-dose = { $what }, kwa miezi yenye malisho mengi dhidi ya miezi yenye machache, kwa kilo { $dose } za uzito mkavu kwa mnyama kwa siku: { $change }. Ni sahihi tu kama hakuna aliyelisha kidogo kwa sababu ya maziwa au mayai.
areas-title = Maeneo
output-see-about = Ushirika, maeneo, mashamba yaliyozuiwa, na majibu dhaifu zaidi
trials-title = Majaribio
trials-title-about = Mashamba mangapi yaanze kila mwezi, nani aanze lini kwa kura, na hilo litaonyesha nini
trials-about = Maziwa na mayai hupanda na kushuka yenyewe. Ili kuona kama malisho ya chipukizi yanasaidia, mashamba mengine lazima yasubiri wakati mengine yanaanza. Yakisubiri mengi zaidi, na kwa muda mrefu zaidi, badiliko dogo zaidi linaweza kuonekana.
trials-about-lot = Nani anaanza lini huamuliwa kwa kura. Wakianza kwanza wale wanaoomba kwanza, au wanaofanya vizuri, hakuna atakayejua baadaye kama malisho ya chipukizi yalisaidia.
trials-enterprise = Maziwa au mayai
trials-of-milk = Maziwa
trials-of-eggs = Mayai
trials-starts = Mashamba ya kuanza kila mwezi
trials-starts-hint = Namba moja kwa mwezi, kama 5 5 4. Mengine yanasubiri.
trials-farms = { $farms ->
    [one] Shamba 1 halijaanza
   *[other] Mashamba { $farms } hayajaanza
  }. La katikati lina rekodi za { $months ->
    [one] mwezi 1
   *[other] miezi { $months }
  }; 6 ni bora kuliko 3, 12 ni bora zaidi.
trials-ways = Njia za kuanza zitaonyesha nini: badiliko dogo kabisa ambalo majaribio { $of } kati ya 100 yangeonyesha
trials-start = Kuanza
trials-waiting = Mashamba yanayosubiri
trials-feeding = Mashamba yanayolisha
trials-programme = Mashamba yote pamoja
trials-member = Mwanachama mmoja
trials-wait-months = Miezi ya kusubiri, mashamba yote
trials-forgone = Akiba inayokosekana wakati huo
trials-at-once = yote kwa mara moja
trials-by-month = { $numbers } (kwa { $months ->
    [one] mwezi 1
   *[other] miezi { $months }
  })
trials-read = Ukitarajia malisho yabadilishe maziwa kwa 6 %, chagua njia inayoonyesha 6 % au chini. Yote yakianza kwa mara moja, hakuna kinachoweza kulinganishwa.
trials-status-no_controls = haionyeshi kitu: hakuna anayesubiri
trials-status-no_records = bado haijulikani: rekodi ni chache mno
trials-chart = Mashamba mangapi yanalisha, na mangapi yanasubiri?
trials-chart-text = Mwezi kwa mwezi tangu wa kwanza aanze.
trials-draw = Piga kura nani aanze lini
trials-draw-about = Orodha inapigiwa kura sasa, kutoka mashamba yote ambayo hayajaanza, kwa usawa kati ya maeneo na ukubwa wa mifugo. Inahifadhiwa pamoja na namba ya kura, ili yeyote aweze kuipiga tena na kuona kuwa hakuna aliyechagua.
trials-draw-do = Piga kura
trials-name = Jina la jaribio
trials-first = Mwezi wa kwanza
trials-drawn = Zilizopigwa hadi sasa
trials-drawn-on = Ilipigwa { $date }
trials-withdrawn = Imefutwa; inabaki hapa ionekane.
trials-list = Nani anaanza lini
trials-head = Wanyama
trials-month = Inaanza
trials-went = Ilikwendaje
trials-waits = inasubiri
trials-followed-as_drawn = kama ilivyopigwa
trials-followed-other_month = katika mwezi mwingine
trials-followed-to_come = bado
trials-followed-late = imechelewa: haijaanza
trials-followed-started_though = imeanza, ingawa ilipaswa kusubiri
trials-day = Ilipigwa
trials-seed = Namba ya kura
trials-again = Ikipigwa tena
trials-same = orodha ile ile
trials-other = orodha nyingine: mtu ameibadilisha
trials-check = Jinsi ya kuikagua
trials-how = Yape mashamba namba kwa msimbo wake. Yapange kwa eneo na kwa theluthi ya ukubwa wa mifugo. Changanya kila sehemu kwa namba ya kura (SplitMix64, Fisher-Yates), ziunganishe sehemu, na ugawe miezi kwa usawa. Kiolesura kinatoa kila hatua.
on-off-title = Miezi yenye malisho ya chipukizi na isiyo nayo kwenye shamba moja
on-off-about = Shamba linalokubali hulisha malisho ya chipukizi kwa miezi kadhaa na kuacha kwa mingine, kwa mpangilio unaopigiwa kura. Huonyesha kama malisho ya chipukizi yanasaidia kwenye shamba hilo moja. Ni pale tu mifugo isipoteseka: badilisha malisho polepole, na muulize afisa mifugo.
on-off-blocks = Vipindi vya miezi, namba shufwa
on-off-months = Miezi kwa kipindi
on-off-unused = Miezi ya kwanza ya kipindi isiyotumika
on-off-unused-hint = Bado huonyesha kipindi kilichotangulia.
on-off-of = Miezi yenye malisho ya chipukizi na isiyo nayo: { $farm }
on-off-agreed = Mwanachama amekubali na anaweza kuacha wakati wowote.
on-off-smallest = Badiliko dogo kabisa linaloweza kuonyeshwa ni { $percent } %.
on-off-on = yenye chipukizi
on-off-off = bila chipukizi
on-off-not-used = (haitumiki)
output-order-followed = Mashamba { $as } kati ya { $all } yalianza kama mpangilio “{ $name }” unavyosema.
stage-milk = Siku tangu kuzaa, wastani wa ng’ombe wanaokamuliwa
stage-hint-milk = Mara moja kwa mwezi. Hufanya jibu kuhusu maziwa liwe imara zaidi; acha wazi kama hujui.
stage-eggs = Umri wa kuku, wiki
stage-hint-eggs = Mara moja kwa mwezi. Hufanya jibu kuhusu mayai liwe imara zaidi; sahihisha kuku wapya wakija.
from-farms = ({ $farms ->
    [one] shamba moja
   *[other] mashamba { $farms }
  })
spoilage-title = Je, trei zinaendelea kuharibika?
spoilage-none = Hakuna mkupuo unaoweza kuhesabiwa bado.
spoilage-recurring = Mikupuo inaharibika mfululizo: afisa aangalie banda na mbegu.
spoilage-insufficient-data = Bado haijulikani: mikupuo ni michache.
spoilage-one-bad-batch = Mkupuo mmoja uliharibika; haujirudii.
spoilage-watch = Trei nyingi kuliko kawaida zinapotea; haitoshi kusema inajirudia.
spoilage-in-shed = Katika banda { $shed }:
spoilage-recurring-quiet = Mikupuo iliharibika mfululizo, na hakuna mkupuo uliokwisha kwa zaidi ya wiki nne.
spoilage-recurring-lot = Mikupuo inaharibika mfululizo, na mafungu yake ya mbegu yanaharibika kwenye mashamba mengine pia: angalia fungu.
spoilage-nothing-counted = Hakuna mkupuo unaoweza kuhesabiwa bado, au hakuna kwa miezi mitatu.
spoilage-counted = Mikupuo ya siku 400 zilizopita iliyohesabiwa: { $batches }; trei { $lost } kati ya { $begun } zilipotea, kabla ya kutandazwa, kwenye rafu au zilitupwa baada ya kuvuna.
not-counted-growing = Mikupuo ambayo bado inakua: { $batches }.
not-counted-unaccounted = Haikuhesabiwa: mikupuo { $batches } yenye trei { $trays } zisizojulikana baada ya siku 14. Andika zilivyovunwa au kutupwa.
not-counted-more-lost-than-begun = Haikuhesabiwa: mikupuo { $batches } yenye trei zilizopotea kuliko zilizoanzwa. Sahihisha rekodi.
not-counted-thrown-unweighed = Mikupuo { $batches } imehesabiwa bila kilichotupwa, kwa kuwa mavuno hayakupimwa.
batch-not-counted-growing = bado unakua
batch-not-counted-unaccounted = trei { $trays } hazijulikani baada ya siku 14
batch-not-counted-more-lost-than-begun = trei zilizopotea ni nyingi kuliko zilizoanzwa
batch-not-counted-thrown-unweighed = umehesabiwa, ila si kilichotupwa: mavuno hayakupimwa
conditions-title = Mambo yanayoendana na hasara
conditions-none = Hadi sasa hakuna kilichorekodiwa kinachoendana na hasara.
conditions-basis = Mikupuo ya miezi 24 iliyopita: { $batches } kwenye mashamba { $farms }.
conditions-left-out = Mikupuo { $batches } imeachwa: mafungu yake ya mbegu yanaharibika kwenye mashamba mengine pia.
conditions-too-few = Bado haijulikani: trei au hasara ni chache.
conditions-others = Mengine yaliyolinganishwa
conditions-made = Ililinganishwa { $date }, mara moja kwa siku.
spoilage-ok = Trei haziendelei kuharibika.
# Seed account
account-title = Hesabu ya mbegu ya { $farm }
account-owes = Deni la mbegu ni { $amount }.
account-ahead = { $amount } zimelipwa mapema.
account-even = Hakuna deni la mbegu.
account-unpriced = { $count ->
    [one] Mgao mmoja wa mbegu haujawekewa bei na haumo kwenye salio.
   *[other] Migao { $count } ya mbegu haijawekewa bei na haimo kwenye salio.
  }
account-period = Kuanzia { $from } hadi { $to }
account-opening = salio la mwanzo
account-about = Kuna kosa? Omba marekebisho, au mwambie afisa wako.
balance = Salio
entry = Maelezo
no-price = bado haina bei
entry-issue_on_credit = mbegu kwa mkopo
entry-issue_paid_at_once = mbegu, imelipwa papo hapo
entry-payment = malipo
paid-by-cash = taslimu
paid-by-mobile_money = kwa simu
paid-by-bank = benki
paid-by-milk_check_off = makato ya maziwa
paid-by-egg_check_off = makato ya mayai
# Corrections that members ask for
ask-title = Omba marekebisho
ask-about = Sema kosa ni nini na sahihi ni ipi. Afisa wako ataona na kujibu hapa.
ask-subject = Inahusu nini?
ask-wish = Kosa ni nini, na sahihi ni ipi?
ask-wish-hint = Mfano: tarehe 8 Machi ilikuwa lita 14, si 41
ask-send = Tuma
ask-before = Yaliyoombwa awali
asked-on = imeombwa { $date }
answered = { $date }: { $answer }
subject-batch = mkupuo
subject-milk = maziwa
subject-eggs = mayai
subject-feed = chakula kilichonunuliwa
subject-seed = mbegu
subject-money = fedha
subject-animals = mifugo
subject-visit = ziara
subject-other = kitu kingine
wishes-title = Marekebisho yaliyoombwa
wish-of = Marekebisho yaliyoombwa na { $farm }
answer-what = Nini kimefanyika?
answer-hint = Sahihisha rekodi yenyewe kwanza; thamani za awali zinatunzwa
answer-send = Jibu
# Whom to visit, farms
round-title = Nani wa kutembelea
round-about = Yenye uharaka zaidi kwanza. Kila shamba lina sababu yake.
round-nobody = Hakuna shamba linalohitaji ziara leo.
round-more = { $count ->
    [one] Shamba jingine moja linahitaji ziara.
   *[other] Mashamba mengine { $count } yanahitaji ziara.
  }
flag = alama ya tahadhari
reason-flag = Mikupuo inaharibika mfululizo; alama ya tahadhari iliwekwa { $date }.
reason-follow-up-overdue = Ilikubaliwa na haijafanyika, tangu { $date }: { $action }
reason-no-records = Hakuna rekodi tangu { $date }: uliza kama trei bado zinakuzwa.
reason-new-starter = Alianza { $date } na hajatembelewa tangu hapo.
reason-wish = Anaomba marekebisho.
bring = Beba: { $what }
bring-for-flag = kipima joto na unyevu, dawa ya kusafishia, fungu lingine la mbegu kulinganisha
bring-for-starter = karatasi ya kazi, kikombe cha kupimia
bring-seed = kilo { $kg } za { $crop }
never-visited = Hajatembelewa bado
last-visit = ziara ya mwisho { $date }
log-visit = Andika ziara
farms-title = Mashamba
farms-none = Hakuna shamba lililopatikana.
find-farm = Jina, namba, simu au msimbo
find = Tafuta
not-started = malisho ya chipukizi hayajaanza
area = Eneo
place = Jinsi ya kulipata
place-hint = Jinsi ya kufika: alama, geti
phone-number = Simu
member-number = Namba ya uanachama
speaks = Lugha
language-name-en = Kiingereza
language-name-sw = Kiswahili
started-on = Kulowekwa kwa mara ya kwanza
animals = Mifugo
seed-on-the-farm = Mbegu iliyopo shambani
seed-kg-days = kilo { $kg }, zinatosha { $days ->
    [one] siku moja
   *[other] siku { $days }
  }
work-of-today = Kazi ya leo: { $late } zimechelewa, { $open } hazijafanyika, { $done } zimefanyika.
shelf-title = Trei za { $shed } zina umri gani?
shelf-text = Trei kwenye rafu kwa siku tangu kulowekwa, dhidi ya nafasi za banda.
shelf-empty = Hakuna trei kwenye rafu.
shelf-places = nafasi { $places }
shelf-over = { $trays } zaidi ya nafasi
shelf-ready = yenye mistari: tayari kuvunwa
all-trays = zote
estimates-title = Rekodi zinasemaje
see-evidence = Angalia ushahidi
see-farm = Angalia shamba
see-batch = Angalia mkupuo
see-lot = Angalia fungu
follow-ups-open = Yaliyokubaliwa na bado hayajafanyika
follow-ups-title = Yaliyokubaliwa
due-on = kabla ya { $date }
visits-last = Ziara ya mwisho
visit-note = Yaliyoonekana: { $text }
visit-advice = Ushauri: { $text }
# Plan of a farm
plan-title = Mpango
plan-of = Mpango wa { $farm }
trays-a-day = Trei kwa siku
places-needed = Nafasi za rafu zinazohitajika
seed-kg-a-day = Mbegu kwa siku, kg
seed-kg-in-30-days = Mbegu kwa siku 30, kg
fresh-kg-a-day = Malisho mabichi kwa siku, kg
water-litres-a-day = Maji kwa siku, lita
work-minutes-a-day = Kazi kwa siku, dakika
plan-derived = Idadi ya mifugo kwa trei moja imekokotolewa kwa uzito wao, si kwa desturi ya kawaida.
shed-too-small = Banda { $shed }: nafasi { $missing } zinakosekana (zipo { $places }).
shed-spare = Banda { $shed }: nafasi { $places }, { $spare } za ziada.
first-feed = Malisho ya kwanza { $date }.
plan-days = Siku kwa siku
to-soak = Ya kuloweka
plan-soak = kilo { $kg } za { $crop } kwenye { $trays ->
    [one] trei 1
   *[other] trei { $trays }
  } kwa { $group }
places-taken = Nafasi zilizotumika
feed-kg = Ya kulisha, kg
short-kg = Pungufu, kg
# Visits
visit-title = Ziara kwa { $farm }
visit-begin = Ilianza
visit-save = Hifadhi ziara
checks-title = Ukaguzi
answer-yes = ndiyo
answer-no = hapana
answer-not_seen = haikuonekana
readings-title = Vipimo bandani
reading-temperature = Joto la hewa, °C
reading-humidity = Unyevu wa hewa, %
photos-title = Picha
photos-hint = Mahali palipohifadhiwa ndani ya picha panaondolewa
photo-of = Picha ya { $number }
advice-title = Yaliyoonekana na ushauri
visit-seen = Yaliyoonekana
visit-advised = Ushauri
advice-hint = Mgao wa chakula na magonjwa: elekeza huduma ya mifugo ya eneo
follow-up-action = Kitakachofanyika
follow-up-due = Lini kabla
how-it-ended = Iliishaje?
outcome-done = imefanyika
outcome-not_done = haikufanyika
outcome-not_needed = haihitajiki tena
follow-up-ended = { $outcome }, { $date }
# Registering a farm
register-title = Sajili shamba
register-about = Mwanachama, shamba, banda na mifugo kwa pamoja. Mpango unafuata papo hapo.
register-save = Sajili
member-title = Mwanachama
member-name = Jina
sex = Jinsia
sex-female = mwanamke
sex-male = mwanaume
sex-not_stated = hakusema
birth-year = Mwaka wa kuzaliwa
joined-on = Alijiunga tarehe
consent = Mwanachama anakubali rekodi hizi zitunzwe na kuhesabiwa kwenye jumla
farm-title = Shamba
farm-code = Namba ya shamba
water-source = Maji
water-piped = bomba
water-borehole = kisima kirefu
water-shallow_well = kisima kifupi
water-rainwater = maji ya mvua
water-river = mto
water-vendor = ya kununua
water-other = nyingine
started-hint = Acha wazi kama malisho ya chipukizi hayajaanza
shed-title = Banda
shed-code = Namba ya banda
tray-places = Nafasi za trei
group-title = Kundi la mifugo { $number }
animal-class = Mifugo
head = Wangapi
ration-feed = Chakula cha { $number }
ration-title = Kabla ya malisho ya chipukizi: chakula cha kununua kwa mnyama mmoja kwa siku
more-fields = Zaidi ya kujaza
made-by-server = Ikiwa wazi: seva huandika inayofuata.
ration-kg = kg zake kwa mnyama kwa siku
animals-title = Mifugo
animals-of = Mifugo ya { $farm }
head-why = Kwa nini
head-counted = wamehesabiwa
head-born = wamezaliwa
head-bought = wamenunuliwa
head-moved_in = wamehamia
head-sold = wameuzwa
head-slaughtered = wamechinjwa
head-died = wamekufa
head-moved_out = wamehama
head-hint = Wote wakihesabiwa; vinginevyo walioongezeka au kupungua
head-line = { $date }: { $head }, { $why }
group-add = Ongeza kundi la mifugo
group-code = Namba ya kundi
labels-title = Lebo
labels-of = Lebo za { $farm }
labels-about = Chapisha, kata na ubandike. Kila msimbo hufungua ukurasa wake baada ya kuingia.
harvest-on = kuvuna { $date }
# What a phone keeps
phone-title = Kwenye simu hii
phone-about = Unachohifadhi bila mtandao kinasubiri hapa na kutumwa chenyewe mtandao ukirudi. Hakuna kinachopotea ukifunga ukurasa au ukitoka.
phone-no-script = Ukurasa huu unahitaji skripti. Bila hiyo kila fomu hutumwa papo hapo, kwa mtandao.
phone-see = Angalia
phone-offline = Hakuna mtandao: unachohifadhi kinabaki kwenye simu hii.
phone-waiting = Inasubiri kwenye simu hii:
phone-needs = Inakuhitaji:
phone-full = Nafasi ya simu imebaki kidogo. Tuma zinazosubiri, au piga picha chache.
phone-sign-out = Kuna ambacho hakijatumwa. Kitabaki kwenye simu hii na kutumwa ukiingia tena hapa. Utoke?
phone-send-now = Tuma sasa
phone-take-along = Beba mashamba ya leo
phone-on-this-phone = kwenye simu hii
phone-sending = inatumwa
phone-sent = imetumwa
phone-needs-you = inakuhitaji
phone-of-other = Ya mtu mwingine aliyeingia kwenye simu hii; itatumwa akiingia tena.
phone-nothing = Hakuna kinachosubiri.
phone-kept-at = imehifadhiwa
phone-photos-left = picha bado hazijatumwa
phone-put-right = Fungua na usahihishe
phone-try-again = Jaribu tena
phone-throw-away = Tupa
phone-throw-sure = Utupe ulichoandika hiki moja kwa moja?
phone-clock = Saa ya simu hii ilikosea kwa dakika:
phone-yours = yako
phone-now = ilivyo sasa
phone-keep-theirs = Bakiza ilivyo sasa
phone-send-mine = Tuma yangu
phone-sign-in-first = Ingia kwanza; hakuna kinachopotea.
phone-store-full = Hakuna nafasi kwenye simu hii. Baki kwenye ukurasa huu, ongeza nafasi (picha, programu nyingine), kisha hifadhi tena.
phone-pages-kept = kurasa ziko kwenye simu hii na hufunguka bila mtandao
phone-photo-failed = Picha hii haikuweza kusomwa kwenye simu hii. Piga tena, au hifadhi bila hiyo.
# The month
month-title = { $month } kwa ufupi
farms-saving = Mashamba yaliyookoa
farms-losing = Mashamba yaliyopata hasara
farms-unknown = Mashamba yasiyo na namba
farms-count = Mashamba
adjustments-in = { $count ->
    [one] Sahihisho moja
   *[other] Masahihisho { $count }
  } ya miezi iliyofungwa: { $amount }.
savings-see = Ripoti ya akiba
spoilage-count = { $count ->
    [0] Hakuna shamba lenye alama ya tahadhari.
    [one] Shamba moja lina alama ya tahadhari.
   *[other] Mashamba { $count } yana alama ya tahadhari.
  }
seed-title = Mbegu
office-title = Ofisi
savings-title = Ripoti ya akiba
savings-title-about = Ukurasa, jedwali, PDF ya bodi, CSV
close-title = Funga mwezi
close-title-about = Yanayokosekana, kisha kufunga
review-title = Orodha ya mapitio
review-title-about = Yanayopingana kwenye rekodi
round-title-about = Alama za tahadhari, makubaliano yaliyochelewa, mashamba kimya, wanaoanza
people-title = Watu na kazi zao
people-title-about = Nani anaingia, na namba za mara moja
server-title = Seva
server-well = Hakuna kinachohitaji kazi yako sasa.
server-at = Hali ya { $moment }.
server-worry-damaged = Hifadhidata imeharibika. Simamisha seva na urejeshe nakala ya akiba ya mwisho. Kujaribu tena hakusaidii.
server-worry-disk_short = Diski inakaribia kujaa. Ongeza nafasi: nakala ya akiba na toleo jipya huandika kwanza nakala ya hifadhidata nzima.
server-worry-backup_failed = Nakala ya akiba ya mwisho haikutengenezwa. Angalia kama diski nyingine ipo na ina nafasi. Kumbukumbu za seva zinasema tatizo.
server-worry-backup_old = Nakala ya akiba ya mwisho ina zaidi ya saa { $hours }. Kumbukumbu za seva zinasema tatizo.
server-worry-backup_none = Seva hii haitengenezi nakala za akiba. Ianzishe kwa --backup na folda ya diski nyingine, au hakikisha zinatengenezwa kwa njia nyingine.
server-worry-figures_failed = { $count ->
    [one] Takwimu za ushirika mmoja hazikutengenezwa.
   *[other] Takwimu za ushirika { $count } hazikutengenezwa.
  } Za zamani zinaendelea kutumika. Kumbukumbu za seva zinasema tatizo.
server-worry-texts_wait = Ujumbe wa simu unasubiri mtoa huduma kwa zaidi ya dakika { $minutes }. Angalia kama modemu au daraja (traybook carry) inafanya kazi.
server-worry-certificate_ends = Cheti kinaisha { $date }. Baada ya hapo vivinjari vitaonya badala ya kuonyesha kurasa. Weka kipya kwenye faili lake.
server-backups = Nakala za akiba
server-last = Ya mwisho, iliyokaguliwa
server-every = Mara ngapi
server-hours = { $hours ->
    [one] kila baada ya saa 1
   *[other] kila baada ya saa { $hours }
  }
server-never = si kwa seva hii
server-failed = Ilishindikana
server-disks = Diski
server-disk-records = Rekodi
server-disk-backups = Nakala za akiba
server-room = { $free } ziko wazi kati ya { $all }; inafaa angalau { $needed } ziwe wazi
server-elsewhere = Si kwenye mashine hii
server-database = Hifadhidata
server-kind = Aina na toleo
server-kind-sqlite = SQLite
server-kind-postgresql = PostgreSQL
server-size = Ukubwa
server-tables = Badiliko la mwisho la majedwali
server-looked = Kurasa zilikaguliwa
server-damage = Hitilafu
server-carriers = Watoa huduma wa ujumbe wa simu
server-carrier = alisikika mwisho { $heard }; ujumbe { $waiting } unasubiri
server-program = Programu
server-version = Toleo
server-started = Inafanya kazi tangu
server-memory = Kumbukumbu ya mashine inayotumika
server-certificate = Cheti kinaisha
server-gb = GB { $amount }
server-mb = MB { $amount }
server-runbook = Hatua kwa hatua: faili la SERVE.md linalokuja na programu, kwenye sehemu ya “When something is wrong”.
nav-security = Usalama
security-title = Kumbukumbu za usalama
security-title-about = Nani aliingia, alishindwa, alipewa namba mpya, alitoa taarifa
security-about = Mistari huongezwa tu, na hutunzwa siku { $days }. Namba za kuingia na anwani huonyeshwa kama alama: alama ileile ni namba au anwani ileile.
security-own = Za ushirika huu
security-none = Zisizo za ushirika wowote
security-at = Lini
security-event = Nini
security-by = Nani
security-whom = Kuhusu nani au nini
security-more = Zaidi
security-account = kuingia { $hash }
security-address = anwani { $hash }
security-signed_in = aliingia
security-sign_in_failed = kuingia kumeshindikana
security-sign_in_refused = majaribio mengi mno, amezuiwa kwa muda
security-signed_out = alitoka
security-sessions_ended = miingio imekatishwa
security-code_made = namba ya mara moja imetolewa
security-phone_lost = simu imepotea, namba mpya imetolewa
security-password_set = neno la siri limewekwa kwa namba
security-password_changed = neno la siri limebadilishwa
security-second_factor_on = uthibitisho wa pili umewekwa
security-second_factor_off = uthibitisho wa pili umeondolewa
security-second_factor_failed = namba ya uthibitisho wa pili si sahihi
security-passkey_added = ufunguo wa kuingia umeongezwa
security-passkey_removed = ufunguo wa kuingia umeondolewa
security-recovery_code_used = namba ya akiba imetumika
security-denied = hairuhusiwi kwa jukumu lake
security-read_personal = ukurasa binafsi wa mwingine umesomwa
security-exported = taarifa zimetolewa
security-restored = imerejeshwa kutoka nakala
security-member_erased = mwanachama amefutwa kabisa
security-sums_opened = jumla zimefunguliwa kwa msomaji wa mpango
security-sums_closed = jumla zimefungwa kwa msomaji wa mpango
own-link = Neno la siri
own-title = Kuingia na neno la siri
own-password = Neno la siri
own-password-old = Neno la siri la sasa
own-password-change = Badilisha
own-sign-ins = Miingio iliyo wazi
own-device = Kifaa
own-device-phone = simu
own-device-computer = kompyuta
own-device-program = programu
own-device-unknown = hakijulikani
own-begun = Tangu
own-seen = Kilionekana mwisho
own-which = Kipi
own-this = hiki
own-end = Katisha cha tangu { $begun }
own-end-all = Katisha vingine vyote
second-title = Uthibitisho wa pili
second-about = Namba kutoka kwenye simu, pamoja na neno la siri. Kwa hiyo anayejua neno la siri tu haingii.
second-there = Umewekwa. Namba huulizwa wakati wa kuingia, na tena kabla ya kubadilisha watu, kufunga miezi na kuchukua mafaili.
second-begin = Weka
second-end = Ondoa
second-code = Namba
second-code-hint = Tarakimu { $digits } kutoka kwenye simu, au namba ya akiba.
second-scan = Skani hii kwa programu ya namba za muda (RFC 6238), au andika herufi hizi humo. Kisha andika namba inayoonyeshwa.
second-confirm = Tumia kuanzia sasa
second-done = Umewekwa.
second-recovery = Namba za akiba, zinaonyeshwa sasa tu. Kila moja hutumika mara moja simu isipokuwepo. Ziandike na zitunze mbali na simu.
passkeys-title = Funguo za kuingia
passkeys-about = Ufunguo wa kuingia hutumika badala ya namba: hufunguliwa kwa kidole, uso au PIN kwenye simu, kompyuta au ufunguo wa kuchomeka. Namba zinabaki kama zilivyo.
passkeys-no-address = Funguo za kuingia zinahitaji anwani ya https. Seva hii haijui anwani yake: anayeiendesha huiweka kwa --public-address.
passkey-name = Jina
passkey-name-hint = Kwa mfano: simu yangu
passkey-made = Umeongezwa
passkey-used = Umetumika mwisho
passkey-begin = Ongeza ufunguo wa kuingia
passkey-make = Tengeneza ufunguo
passkey-make-about = Kivinjari huomba kidole, uso au PIN yako.
passkey-end = Ondoa { $name }
passkey-use = Tumia ufunguo wa kuingia
passkey-wrong = Ufunguo haukukubaliwa. Jaribu tena, au andika namba.
passkey-failed = Kivinjari hakikutoa ufunguo. Jaribu tena, au tumia namba.
passkey-no-script = Funguo za kuingia zinahitaji kivinjari kinachoendesha programu za ukurasa. Namba hufanya kazi bila hizo.
proof-title = Namba kwanza
proof-about = Kabla ya hili namba ya uthibitisho wa pili huulizwa tena.
proof-go = Endelea
wrong-code = Namba si sahihi, au imeshatumika. Andika inayoonyeshwa sasa.
reset-notice = { $name } aliweka upya kuingia huku tarehe { $date }. Asiyeomba aiambie ofisi.
reset-seen = Imeonekana
refused-wrong_code = Namba si sahihi, au imeshatumika. Andika inayoonyeshwa sasa.
refused-wrong_password = Hili si neno la siri la sasa.
problem-proof_needed = Namba ya uthibitisho wa pili huulizwa kwanza.
service-title = Malisho yanaweza kukosekana mara ngapi
service-title-about = Gharama ya mbegu ya kupunguza siku zenye upungufu wa malisho
service-intro = Trei huharibika na mavuno hutofautiana. Mbegu za ziada hupunguza siku zenye upungufu wa malisho, lakini malisho mengi zaidi hutupwa. Chagua kinachowafaa wanachama.
service-need = Mashamba yanahitaji kilo { $kg } za malisho mabichi kwa siku.
service-short-days = Siku kati ya 100 zenye upungufu wowote
service-short-tenth = Siku kati ya 100 zenye upungufu wa zaidi ya sehemu ya kumi
service-wasted = Malisho yanayotupwa, kilo kwa siku
service-seed = Mbegu, kilo kwa siku
service-now = Inayotumika
service-in-force = sasa
service-measured = Kutoka kwa mashamba ya mfano yanayopoteza trei moja kati ya ishirini. Yenu yanaweza kutofautiana: mpango hujifunza kutokana na rekodi za kila shamba.
service-prices = Kilo moja ya malisho inayotupwa hugharimu mbegu za { $wasted }; chakula cha kununua chenye uzito mkavu sawa hugharimu { $missing }. Kwa bei hizi malisho yanaweza kukosekana siku { $days } kati ya 100. Mahitaji mengine ya wanyama yaulizwe kwa huduma za mifugo za eneo.
service-choose = Siku kati ya 100 ambazo malisho yanaweza kukosekana
service-choice = siku { $days }
guide-title = Mwongozo wa ukuzaji
guide-title-about = Viwango vya chama chenyewe
import-title = Ingiza mafaili
import-title-about = Majedwali ya awali, kwa kuangalia kwanza
work-title = Kazi ya leo ya mashamba yote
work-title-about = Iliyochelewa kwanza
# Savings report
savings-of = Akiba ya { $month }
saving-total-none = Hakuna shamba lenye namba bado.
month-closed = Mwezi umefungwa: ripoti yake inabaki ilivyo.
month-open = Mwezi uko wazi: namba zinafuata rekodi ndani ya dakika moja.
as-workbook = Jedwali (XLSX)
as-pdf = Ya bodi (PDF)
as-csv = CSV
more-in-file = Na wengine { $count }: wako kwenye faili (CSV).
savings-chart = Mashamba gani yaliokoa, na ni uhakika kiasi gani?
savings-chart-text = Kila mstari ni akiba ya shamba moja na mipaka yake ya 95 %, iliyo wazi zaidi kwanza; alama tupu ina maana bado haijulikani kama ni akiba au hasara.
by-area = Kwa eneo, { $currency }
by-member = Kwa mwanachama, iliyo wazi zaidi kwanza
by-member-of = Wanachama wa { $area }, iliyo wazi zaidi kwanza
percent-of-before = Kati ya kingeliwa, %
between-95 = Kati ya (95 %)
low-to-high = { $low } hadi { $high }
output-change = Badiliko la mazao (uhakika wa 95 %)
all-together = Jumla kuu
method-title = Jinsi ilivyokokotolewa
savings-method = Akiba = chakula ambacho mifugo hiyo hiyo ingekula bila malisho ya chipukizi kwa bei za mwezi huu, kutoa chakula kilichonunuliwa na kuliwa, mbegu iliyolowekwa, gharama nyingine na uchakavu; trei zilizoharibika zimo ndani. Chakula kinagawanywa kwa siku hadi ununuzi unaofuata. Kukosa rekodi si sifuri: mwezi usio na kinachohitajika hauna namba. Hasara huonyeshwa wazi kama akiba.
close-of = Funga { $month }
close-done-see = Miezi iliyofungwa
close-missing = Yanayokosekana
close-nothing-missing = Hakuna kinachokosekana.
close-missing-count = { $count ->
    [one] Shamba moja halina namba kwa sababu kuna kinachokosekana.
   *[other] Mashamba { $count } hayana namba kwa sababu kuna kinachokosekana.
  }
close-review = { $count ->
    [0] Orodha ya mapitio ni tupu.
    [one] Jambo moja liko kwenye orodha ya mapitio.
   *[other] Mambo { $count } yako kwenye orodha ya mapitio.
  }
close-warning = Mwezi uliofungwa unabaki ulivyoripotiwa. Rekodi bado zinaweza kusahihishwa; tofauti inaonekana mwezi ujao. Mwezi ukifungwa haufunguliwi tena.
close-do = Funga { $month } kabisa
closed-months = Miezi iliyofungwa
closed-on = Ulifungwa
changed-since = Rekodi zimebadilika tangu hapo
# Spoilage and seed lots
spoilage-list-title = Mashamba ambayo trei zinaendelea kuharibika
figures-of = Takwimu za { $date }, saa { $time }.
figures-none = Takwimu zinatayarishwa. Angalia tena baada ya dakika moja.
spoilage-about = Ushahidi mkubwa kwanza. Alama ya tahadhari ina maana inajirudia, si kwamba mkupuo mmoja uliharibika.
spoilage-farms = Mashamba kwa ushahidi
spoilage-status = Hali
evidence-points-at = Ushahidi unaelekeza
batches-counted = Mikupuo iliyohesabiwa
spoilage-word-recurring = inajirudia
spoilage-word-insufficient-data = haijulikani
spoilage-word-one-bad-batch = mkupuo mmoja
spoilage-word-watch = zaidi ya kawaida
spoilage-word-recurring-quiet = ilijirudia, kimya sasa
spoilage-word-recurring-lot = fungu la mbegu linaharibika
spoilage-word-nothing-counted = hakuna kilichohesabiwa
spoilage-word-ok = haijirudii
points-at-farm_or_lot = shamba au fungu moja la mbegu
points-at-farm = shamba
points-at-seed_lot = fungu la mbegu
points-at-not_known = haijulikani
evidence-of = Ushahidi wa trei kuharibika: { $farm }
evidence-to = Ushahidi unaelekeza { $what }.
evidence-chart = Je, trei zinaendelea kuharibika hapa?
evidence-chart-text = Mstari hupanda kwa mikupuo iliyopoteza trei nyingi na kushuka kwa mizuri; alama ya tahadhari huwekwa unapofika mstari wa vipande.
evidence-axis = Ushahidi
evidence-across = muda
evidence-threshold = alama ya tahadhari
evidence-flag-at = Alama ya tahadhari huwekwa ikifika
evidence-skipped = hauhesabiwi dhidi ya shamba: fungu lake linaharibika kwingine
evidence-sheds = Mabanda
evidence-not-counted = Mikupuo isiyohesabiwa
evidence-why-not = Kwa nini
batch-ended-on = Ulikwisha
soak-not-recorded = haijarekodiwa
trays-begun = Trei zilizoanzwa
batches-not-counted = Isiyohesabiwa
evidence-raised = uliweka alama ya tahadhari
evidence-batches = Mikupuo yake, mipya kwanza
flag-raised = Alama ya tahadhari iliwekwa { $date }
flag-seen = Ilionekana tarehe
flag-cause = Sababu iliyopatikana
flag-finding = Kilichopatikana na kufanyika
flags-before = Alama za tahadhari za awali
flag-period = { $from } hadi { $to }
spoilage-method = Kila mkupuo huhesabiwa kwa trei zilizoanzwa na zilizopotea, hata uwe mdogo: je, zinaonyesha hasara kubwa kuliko ile ambayo ushirika unaikubali? Trei za mkupuo mmoja hazihesabiwi kama huru. Shamba lililo sawa lingewekewa alama ya tahadhari mara moja tu kwa miaka kumi. Alama inahitaji angalau mikupuo mitatu mibaya, na mizuri huiondoa. Mikupuo ya fungu la mbegu linaloharibika kwenye mashamba mengine pia haihesabiwi dhidi ya shamba.
lots-title = Mafungu ya mbegu
lots-table = Mafungu ya siku 90 zilizopita
lots-seed-lot = Ushahidi unaelekeza mafungu ya mbegu.
lots-farm = Ushahidi unaelekeza mashamba, si mafungu ya mbegu.
lots-both = Ushahidi unaelekeza mashamba na mafungu pia.
lots-neither = Hakuna fungu wala shamba linalojitokeza.
lots-not-identifiable = Bado haijulikani: mbegu na shamba haziwezi kutenganishwa kabla mafungu kadhaa hayajakuzwa kwenye mashamba kadhaa kila moja.
lot-spoils-elsewhere = Mikupuo ya fungu hili ilipoteza trei mara { $times } ya zilizotarajiwa, kwenye mashamba kadhaa.
lot-carries-flags = Mashamba haya yangekuwa na alama ya tahadhari, kama si fungu hili:
lot-suspect = lina shaka
lot-not-suspect = halina shaka
supplier = Muuzaji
growing-at = Linakua sasa kwa
lot-trace = Lilikotoka na lilikokwenda
hold-title = Zuia fungu hili
hold-why = Kwa nini
hold-from = Kuanzia
hold-because = Limezuiwa: { $why }
hold-end = Liachilie tena
hold-do = Zuia: usigawe tena
# Seed purchases
purchases-title = Mbegu ya kununua
purchases-about = Mipango ya mashamba yote kwa wiki zijazo, kutoa mbegu iliyopo mashambani na ghalani.
buy-by = { $crop }: agiza { $bags ->
    [one] mfuko 1
   *[other] mifuko { $bags }
  } (kilo { $kg }) kabla ya { $date }, kwa wiki { $weeks } zijazo.
buy-some = { $crop }: agiza { $bags ->
    [one] mfuko 1
   *[other] mifuko { $bags }
  } (kilo { $kg }) kwa wiki { $weeks } zijazo.
buy-nothing = { $crop }: hakuna cha kuagiza kwa wiki { $weeks } zijazo.
purchases-list = Kwa zao
need-kg = Ya kuloweka, kg
on-farms-kg = Mashambani, kg
in-store-kg = Ghalani, kg
held-kg = Imezuiwa, kg
to-buy-kg = Ya kununua, kg
to-buy-bags = Mifuko
store-lasts = Ya ghalani inatosha hadi
order-by = Agiza kabla ya
issue-points = Kila eneo linachogawa
to-issue-kg = Ya kugawa, kg
to-issue-bags = Mifuko
purchases-method = Mbegu ya kuloweka kwa kila mpango wa shamba siku kwa siku, kutoa mbegu iliyopo. Agiza kabla ya: siku ya kwanza ghala litakapokuwa na mbegu pungufu ya itakayogawiwa hadi mzigo kufika, pamoja na mbegu za dharura. Mafungu yaliyozuiwa hayahesabiwi.
# People
person-name = Jina
role = Kazi
role-operator = mwendeshaji
role-manager = meneja
role-officer = afisa
role-member = mwanachama
role-programme_reader = msomaji wa programu
may-sign-in = Anaruhusiwa kuingia
person-new = Ongeza mtu
person-add = Ongeza
short-name = Jina fupi
email = Barua pepe
find-person = Jina au namba
person-member-hint = Kwa kazi ya mwanachama tu
invitation-about = Namba ya mara moja humwezesha mtu huyu kuweka nenosiri. Inadumu wiki moja na huonyeshwa mara moja.
invitation-make = Tengeneza namba ya mara moja
invitation-code = Namba ya mara moja, inaonyeshwa sasa tu: { $code }
officer-areas = Maeneo
area-add = Ongeza eneo
area-take-away = Ondoa { $area }
# Growing guide
guide-intro = Kila kiwango kinachotumika, na tangu lini. Thamani mpya inatumika kuanzia siku yake; yaliyopita yanabaki.
guide-standard = Kiwango
guide-value = Thamani
guide-since = Tangu
guide-default = kawaida, desturi
guide-derived = imekokotolewa kwa uzito
guide-change = Weka kiwango
guide-class-hint = Kwa umri wa kuvuna na mifugo kwa trei tu
guide-from = Kuanzia
guide-why = Kwa nini
guide-soak_hours = kuloweka
guide-incubate_hours = kuchipua kabla ya kutandaza
guide-seed_kg_per_tray = mbegu kavu kwa trei
guide-drain_gap_cm = nafasi upande wa maji kutoka
guide-waterings_per_day = kumwagilia
guide-harvest_age_days = umri wa kuvuna
guide-animals_per_tray = mifugo kwa trei moja
guide-fresh_kg_per_kg_seed = mavuno mabichi
guide-fodder_water_percent = maji katika malisho mabichi
guide-seed_dry_matter_percent = uzito mkavu wa mbegu
guide-full_trays = trei kamili badala ya kupimwa
guide-tray_most_percent = mbegu nyingi zaidi kwa trei, kati ya mzigo kamili
guide-young_loss_percent = uzito unaopotea kwa kuvuna siku moja mapema
guide-short_days_percent = siku ambazo malisho yanaweza kukosekana
guide-water_litres_per_kg_fresh = maji kwa malisho mabichi
guide-labour_minutes_per_tray = kazi kwa trei
guide-seed_lead_days = siku kutoka agizo hadi kufika
guide-seed_service_percent = uhakika wa mbegu za dharura
guide-seed_bag_kg = mfuko
guide-silent_days = siku hadi shamba lihesabiwe kimya
guide-seed_credit_most = kikomo cha mkopo wa mbegu wa mwanachama
guide-sorghum_allowed = mtama unaruhusiwa
unit-hours = { $count ->
   *[other] saa
  }
unit-kg = kg
unit-cm = cm
unit-a-day = kwa siku
unit-days = { $count ->
   *[other] siku
  }
unit-animals = { $count ->
    [one] mnyama
   *[other] wanyama
  }
unit-kg-per-kg = kg kwa kg
unit-currency-units = za sarafu ya ushirika
unit-per-cent = %
unit-1-or-0 = (1 ndiyo, 0 hapana)
unit-l-per-kg = { $count ->
   *[other] lita kwa kg
  }
unit-minutes = { $count ->
   *[other] dakika
  }
# Reading in files
import-refused-why = sababu ya kukataliwa
import-intro = Chagua majedwali: XLSX au CSV, moja au kadhaa. Seva hutafuta kichwa cha jedwali na huuliza pale safuwima isipoeleweka. Unaona kila safu itakuwa nini. Hakuna kinachotunzwa mpaka useme.
import-files = Mafaili
import-hint = XLSX au CSV; kadhaa kwa pamoja; hadi MB 24
import-look = Yaangalie
import-preview = Kilichomo kwenye mafaili
import-nothing-kept = Hakuna kilichotunzwa bado.
import-take = { $count ->
    [one] Chukua faili zuri
   *[other] Chukua mafaili mazuri { $count }
  }
import-none-good = Hakuna faili linaloweza kuchukuliwa lilivyo. Sahihisha safu kwenye jedwali na uchague tena.
import-not-taken = { $file } halikuchukuliwa: hakuna safu yake iliyotunzwa. Lisahihishe na ulisome tena; yaliyochukuliwa hayarudiwi.
import-done = Imefanyika.
import-running = Safu { $rows } kati ya { $all } zimesomwa. Unaweza kuondoka kwenye ukurasa huu: kazi inaendelea.
import-failed = Mafaili hayakuweza kuandikwa, na hakuna chochote kilichobaki. Yatume tena.
import-file = Faili
import-verdict = Uamuzi
import-good = zuri
import-bad = lina safu mbaya
import-rows = Safu
import-new = Mpya
import-before = Zilikuwepo
import-bad-rows = Safu mbaya
import-bad-more = Safu mbaya; { $count ->
    [one] nyingine moja haionyeshwi
   *[other] nyingine { $count } hazionyeshwi
  }
import-line = Mstari
import-column = Safuwima
import-what = La kufanya
import-row = Safu yenyewe
import-columns = Safuwima
import-columns-intro = Sema safu ni za nini, na kila safuwima iende wapi. Unachochagua kinatunzwa kwa faili lijalo lenye kichwa hichohicho.
import-change-columns = Badilisha jinsi safuwima zinavyosomwa
import-rows-are = Safu ni za
import-header-line = Mstari wa { $line } una majina ya safuwima
import-leave-file = acha faili hili
import-leave-column = acha safuwima hii
import-fixed = { $field }: sawa kwenye safu zote
import-fixed-hint = Hakuna safuwima yake. Chagua safuwima hapo juu, au thamani moja hapa.
import-days = Tarehe kwa tarakimu
import-day-first = 5/3/2026 ni 5 Machi
import-month-first = 5/3/2026 ni 3 Mei
import-mark = Koma na nukta kwenye namba
import-mark-comma = 1,250 ni moja na robo; 1.250 ni elfu moja mia mbili hamsini
import-mark-point = 1,250 ni elfu moja mia mbili hamsini; 1.250 ni moja na robo
import-left-out = Safu za jumla na vichwa vilivyorudiwa, zimeachwa
import-first-rows = Safu za kwanza zitakuwa hivi
import-behind = { $count ->
    [one] (na safu moja inayoitegemea)
   *[other] (na safu { $count } zinazoitegemea)
 }
import-waiting = { $count ->
    [one] Safu moja zaidi imekataliwa: inategemea safu iliyokataliwa.
   *[other] Safu { $count } zaidi zimekataliwa: zinategemea safu zilizokataliwa.
 }
import-take-rows = { $count ->
    [one] Chukua safu moja nzuri
   *[other] Chukua safu { $count } nzuri
 }
import-rows-not-taken = { $file }: safu mbaya zimeachwa. Zichukue kama faili, zisahihishe, kisha usome faili hilo.
import-refused-rows = Safu zilizokataliwa za { $file }
import-refused-waits = inategemea safu iliyokataliwa
import-refused-more = safu zilizokataliwa ni nyingi kuliko zilizoelezwa: sahihisha nyingine kwanza
import-templates = Violezo vya kujaza
import-templates-intro = Kila kimoja kina kichwa na safu moja ya mfano wa kubuni. Andika juu ya mfano. Safuwima usizohitaji zinaweza kubaki tupu.
kind-area = Maeneo
kind-growing_guide_value = Viwango vya mwongozo wa kukuza
kind-checklist_item = Maswali ya ukaguzi
kind-feed = Aina za chakula
kind-supplier = Wauzaji
kind-member = Wanachama
kind-person = Watu wanaoingia
kind-officer_area = Maeneo ya maafisa
kind-farm = Mashamba
kind-shed = Mabanda
kind-animal_group = Makundi ya mifugo
kind-head_count = Hesabu ya mifugo
kind-baseline_ration = Mgao wa kabla ya malisho ya chipukizi
kind-seed_lot = Mafungu ya mbegu
kind-seed_purchase = Mbegu zilizopokelewa
kind-seed_issue = Mbegu zilizogawiwa
kind-seed_adjustment = Marekebisho ya mbegu iliyopo
kind-batch = Mikupuo
kind-batch_event = Matukio ya mikupuo
kind-milk_record = Maziwa
kind-egg_record = Mayai
kind-feed_purchase = Chakula kilichonunuliwa
kind-feed_count = Chakula kilichobaki ghalani
kind-other_cost = Gharama nyingine za malisho ya chipukizi
kind-asset = Vifaa
kind-visit = Ziara
kind-reading = Joto na unyevu
kind-training = Mafunzo
kind-attendance = Mahudhurio ya mafunzo
kind-fodder_plan = Mipango ya makundi ya mifugo
kind-seed_payment = Malipo ya mbegu
kind-deduction = Makato ya maziwa au mayai
# Review list
review-intro = Hakuna kilichoingizwa kinachobadilishwa hapa. Jambo linaondoka rekodi zikisahihishwa, au mtu akilikubali kwa sababu.
review-none = Hakuna kinachopingana.
review-again = { $count ->
    [one] Jambo moja linaangaliwa tena: rekodi yake imebadilika.
   *[other] Mambo { $count } yanaangaliwa tena: rekodi zake zimebadilika.
}
review-more = { $count ->
    [one] Jambo jingine moja.
   *[other] Mambo mengine { $count }.
  }
review-accept = Kubali kwa sababu
review-accept-each = Mara zote { $cases } zinakubaliwa kwa sababu hii.
review-reason = Kwa nini inaweza kubaki
rule-store_stock_below_zero = mbegu ghalani chini ya sifuri
rule-farm_stock_below_zero = mbegu shambani chini ya sifuri
rule-more_trays_out_than_spread = trei zilizotoka zaidi ya zilizotandazwa
rule-more_fed_than_harvested = kilicholishwa zaidi ya kilichovunwa
rule-yield_impossible = mavuno yasiyowezekana
rule-yield_unlikely = mavuno yasiyo ya kawaida
rule-events_out_of_order = matukio bila mpangilio
rule-fed_over_age = imelishwa baada ya siku yake
rule-fed_with_mould = imelishwa na ukungu
rule-held_lot_soaked = fungu lililozuiwa limelowekwa
rule-shed_over_full = trei zaidi ya nafasi
rule-silent_farm = shamba kimya
rule-repeated_values = thamani ileile kila siku
rule-rounded_values = namba zote za mviringo
rule-output_jump = mruko wa maziwa au mayai
rule-head_jump = mruko wa idadi ya mifugo
rule-feed_price = bei ya chakula kilichonunuliwa
rule-feed_kg = kilo za chakula kilichonunuliwa
rule-feed_gap = ununuzi unaoonekana haukuandikwa
rule-feed_stock = chakula kilichobaki zaidi ya kilichokuwepo
# Findings: what is wrong and what most likely puts it right, by rule
finding-batch = Mkupuo { $code }
finding-batch-unnamed = Mkupuo mmoja
finding-litres = lita { $amount }
finding-eggs = { $amount ->
    [one] yai 1
   *[other] mayai { $amount }
  }
step-soaked = kulowekwa
step-spread = kutandazwa
step-harvested = kuvunwa
step-fed_out = kulishwa
problem-more_trays_out_than_spread = { $what }: { $out ->
    [one] trei 1 imevunwa au kutupwa
   *[other] trei { $out } zimevunwa au kutupwa
  }, lakini zilizotandazwa ni { $spread } tu.
problem-more_fed_than_harvested = { $what }: kilo { $fed } zimelishwa, lakini zilizovunwa ni kilo { $harvested } tu.
problem-yield_impossible = { $what }: uzito mkavu wa kilo { $harvested } za malisho unazidi ule wa kilo { $seed } za mbegu iliyolowekwa.
problem-yield_unlikely-little = { $what }: kilo { $yield } za malisho mabichi kwa kila kilo ya mbegu ni chache kuliko kawaida.
problem-yield_unlikely-much = { $what }: kilo { $yield } za malisho mabichi kwa kila kilo ya mbegu ni nyingi kuliko kawaida.
problem-events_out_of_order-missing = { $what }: { $event } kumeandikwa, lakini hakuna rekodi ya { $before }.
problem-events_out_of_order-order = { $what }: { $event } kumeandikwa kabla ya { $before }.
problem-fed_over_age = { $what }: siku yake ilikuwa { $due }, lakini ulilishwa { $fed }.
problem-fed_with_mould = { $what }: ukungu ulionekana { $seen }, na mkupuo ulilishwa { $fed }.
problem-held_lot_soaked = { $what }: mbegu ya fungu lililozuiwa tangu { $held } ililowekwa { $soaked }.
problem-shed_over_full = Tarehe { $day } trei { $trays } zilikuwa kwenye banda lenye nafasi { $places }.
problem-silent_farm-last = Shamba { $what } halijarekodi chochote kwa siku { $days }; rekodi yake ya mwisho ni ya { $last }.
problem-silent_farm-none = Shamba { $what } halijarekodi chochote kwa siku { $days }; hakuna rekodi tangu { $last }.
problem-repeated_values = Kiasi kilekile ({ $amount }) kimeandikwa kwenye rekodi { $records } mfululizo; kwa jinsi shamba hili hurudia namba kwa kawaida, hilo hutokea kwa shamba moja kati ya { $odds } au zaidi.
problem-rounded_values = Rekodi { $records } za mwisho zote zinagawanyika sawasawa kwa { $step }.
problem-output_jump-milk = Lita { $each } kwa mnyama tarehe { $date }, wakati siku za karibu zina { $around }.
problem-output_jump-eggs = Mayai { $each } kwa kuku tarehe { $date }, wakati siku za karibu zina { $around }.
problem-head_jump = Kundi { $what }: { $counted ->
    [one] mnyama 1 alihesabiwa
   *[other] wanyama { $counted } walihesabiwa
  } { $date }, wakati { $expected ->
    [one] aliyetarajiwa ni 1
   *[other] waliotarajiwa ni { $expected }
  }.
problem-farm_stock_below_zero = Kwa rekodi, mbegu ya fungu { $what } iliyopo shambani ilikuwa kilo { $kg } tarehe { $date }.
problem-store_stock_below_zero = Kwa rekodi, mbegu ya fungu { $what } iliyopo ghalani ilikuwa kilo { $kg } tarehe { $date }.
problem-feed_price-far = { $what }: kilo { $kg } zilizonunuliwa { $date } ziligharimu { $currency } { $price } kwa kilo, wakati bei ya kati ya chama ni { $currency } { $median }.
problem-feed_price-none = { $what }: kilo { $kg } zilizonunuliwa { $date } hazina bei.
problem-feed_kg = { $what }: kilo { $kg } zilizonunuliwa { $date } zingekuwa kilo { $rate } kwa mnyama kwa siku, wakati kawaida ya shamba hili ni kilo { $usual }.
problem-feed_gap = { $what }: kilichonunuliwa { $date } kingedumu siku { $days }, wakati kwa kawaida hudumu siku { $usual }: inaonekana ununuzi uliofuata haukuandikwa.
finding-uncounted = Hadi hili lijibiwe, chakula kilicholiwa kuanzia { $from } hadi { $until } hakihesabiwi, na namba zinazohitaji siku hizi zinasubiri.
problem-feed_stock = { $what }: kilo { $left } zilibaki tarehe { $date }, lakini kwa rekodi zilizokuwepo hazizidi kilo { $kg }.
fix-more_trays_out_than_spread = Sahihisha trei zilizotandazwa, au futa rekodi ya kuvuna au kutupa iliyoandikwa mara mbili.
fix-more_fed_than_harvested = Sahihisha uzito uliovunwa au uliolishwa, au futa rekodi ya kulisha iliyoandikwa mara mbili.
fix-yield_impossible = Sahihisha mbegu iliyolowekwa au uzito uliovunwa; trei zinazochuruzika maji huzidi uzito.
fix-yield_unlikely = Angalia mbegu iliyolowekwa na uzito uliovunwa; kubali kama mkupuo ulikuwa mbaya.
fix-events_out_of_order = Sahihisha muda wa tukio mojawapo, au ongeza rekodi inayokosekana.
fix-fed_over_age = Sahihisha siku kama imekosewa; kama ulilishwa kwa kuchelewa, uliza hali ya mifugo.
fix-fed_with_mould = Uliza nini kililishwa na hali ya mifugo; daktari wa mifugo ajulishwe.
fix-held_lot_soaked = Usilishe chochote chake mpaka fungu liachiliwe; sahihisha fungu kama lilikuwa jingine.
fix-shed_over_full = Sahihisha trei zilizotandazwa au nafasi za banda, au ongeza mavuno yanayokosekana.
fix-silent_farm = Uliza kama kuna rekodi zinazosubiri kwenye simu, au andika mapumziko kama shamba limesimama.
fix-repeated_values = Uliza inapimwaje; sahihisha rekodi, au zikubali kama ni sahihi.
fix-rounded_values = Uliza kama inapimwa au inakisiwa; onyesha jinsi ya kusoma kipimo kwa usahihi.
fix-output_jump = Sahihisha kiasi au idadi ya wanyama wa siku hiyo, au sema kwa nini ilikuwa hivyo.
fix-head_jump = Ongeza waliozaliwa, walionunuliwa, waliouzwa au waliokufa wanaokosekana, au sahihisha idadi.
fix-feed_price = Sahihisha kilo au kiasi kilicholipwa, au sema kwa nini bei ilikuwa hivyo.
fix-feed_kg = Sahihisha kilo au siku, au sema kwa nini kiliwa kingi au kidogo hivyo.
fix-feed_gap = Ongeza ununuzi unaokosekana, au chakula kilichobaki; sema kama hakuna kilichonunuliwa.
fix-feed_stock = Sahihisha chakula kilichobaki, au ongeza ununuzi unaokosekana.
fix-farm_stock_below_zero = Ongeza mbegu iliyogawiwa isiyoandikwa, sahihisha kuloweka au fungu lake, au hesabu mbegu iliyopo.
fix-store_stock_below_zero = Ongeza ununuzi unaokosekana, sahihisha mbegu iliyogawiwa au fungu lake, au hesabu mbegu iliyopo.
# Totals of a programme
sum-title = { $count ->
    [one] Ushirika mmoja wa mpango
   *[other] Vyama { $count } vya ushirika vya mpango kwa pamoja
  } · { $currency }
sum-why = Pale kundi lilipo dogo mno katika ushirika, wanachama wake huhesabiwa tu ikiwa vyama kadhaa vina wanachama kama hao. * huonyesha jumla inayoacha baadhi ya wanachama. Nusu za upana wa vipindi zimejumlishwa.
sum-cooperatives = Vyama vya ushirika
totals-title = Jumla ya { $month }
totals-from = Kuanzia
totals-until = Hadi
totals-divide = Kwa mgawanyo wa
totals-by-cooperative = chama
totals-by-area = eneo
totals-by-sex = jinsia
totals-by-age_band = umri
totals-group = Kundi
totals-members = Wanachama
totals-milk = Lita kwa ng’ombe kwa siku
totals-eggs = Mayai kwa kuku 100 kwa siku
totals-fed-unweighed = Trei zilizolishwa bila kupimwa
totals-fed = Malisho mabichi yaliyolishwa, kg
group-all = wote
group-female = wanawake
group-male = wanaume
group-not-stated = hawakusema
group-under-18 = chini ya 18
group-18-to-24 = 18 hadi 24
group-25-to-34 = 25 hadi 34
group-35-to-59 = 35 hadi 59
group-60-and-over = 60 na zaidi
# One-time codes, paper
invitation-title = Weka nenosiri lako
invitation-intro = Kwa namba ya mara moja uliyopewa na ofisi yako.
invitation-your-code = Namba ya mara moja
invitation-password = Nenosiri jipya
invitation-password-hint = Angalau herufi 10: maneno matatu yasiyohusiana ni mazuri. Wanachama wanaweza kutumia PIN ya tarakimu 6 hadi 9.
invitation-save = Weka
invitation-ready = Limewekwa. Ingia nalo.
invitation-have = Nina namba ya mara moja
invitation-link = Au kama kiungo: { $link }
address-unknown = Hapa hakuna kiungo wala picha ya kuskani: seva hii haijui anwani yake. Msimamizi wa mfumo aitoe kwa --public-address.
invitation-once = inafanya kazi mara moja, kwa wiki
batch-start = Mkupuo mpya
sheet-print = Karatasi ya kazi ya kuchapisha
# Conflicts, what is missing, taking back
stale-there-now = ilivyo sasa: { $value }
stale-short = Mtu mwingine amebadilisha hii wakati huo. Angalia tena.
gone-meanwhile = Hii haipo tena, au si yako.
cooperative = Chama
saving-unclear-loss = Bado haijulikani. Kwa rekodi hasara ni { $amount }, lakini huenda ni bahati tu; bado hatuna uhakika.
age-days-over = siku ya { $days }, imepita siku yake
lot-is-held = limezuiwa
take-back = Futa
take-back-of = Imefutwa: { $what }
take-back-why = Kwa nini
milk-recorded = { $date }: lita { $amount }
eggs-recorded = { $date }: { $amount ->
    [one] yai 1
   *[other] mayai { $amount }
  }
stage-not_soaked = haijalowekwa bado
interval-none = bado haijulikani
change-none = bado haijulikani
change-told = { $percent } % ({ $low } hadi { $high })
change-unclear = bado haijulikani ({ $low } hadi { $high } %)
saving-no-interval = Bado hatujui namba hii ni ya uhakika kiasi gani.
note-no-other = hakuna gharama nyingine zilizorekodiwa
note-no-soak = hakuna kuloweka kulikorekodiwa
note-unweighed = malisho yalilishwa bila kupimwa: kilo zake hazikuhesabiwa, na bei ya kilo haijulikani
note-group-left-out = kundi la mifugo lisilo na idadi halimo
batch-correct = Sahihisha zao, fungu la mbegu au kundi la mifugo
correct-of = Sahihisha { $what }
batch-shed-stays = Banda linabaki kama lilivyo. Kama ni banda jingine, futa mkupuo huu na uanzishe mwingine huko.
batch-take-back-about = Inafuta mkupuo pamoja na yote yaliyorekodiwa juu yake. Inabaki kwenye historia.
harvest-age-days = Umri wa kuvuna, siku tangu kuloweka
harvest-age-hint = Acha wazi ili kufuata mwongozo wa ukuzaji.
# The book of a farm, the co-operative's store
book-of = Daftari la { $farm }
book-about = Kilichonunuliwa, kilichotumika, kilichotolewa na kulipwa: ripoti ya akiba hutokana na hiki. Mwezi bila chakula kununuliwa unahitaji mstari mmoja wa kilo 0.
book-add = Ongeza: { $what }
book-newest = { $what }: za karibuni
store-title = Ghala na vyakula
book-feed-purchase = Chakula kilichonunuliwa
book-feed-purchase-about = Kila chakula peke yake, pamoja na yote yaliyolipwa.
book-feed-purchase-kg-hint = 0 kama hakikununuliwa mwezi huu
nothing-bought = Hakuna kilichonunuliwa mwezi fulani
nothing-bought-of = Hakuna kilichonunuliwa · { $farm }
nothing-bought-about = Sema hivyo kwa mwezi ambao hukununua chakula fulani: bila hilo haijulikani kama ununuzi ulisahaulika. Kisha gusa jinsi ilivyokuwa.
nothing-bought-none = Hakikutumika
nothing-bought-none-about = Hakikubaki chochote mwezi ulipoanza, na mifugo haikukila.
nothing-bought-none-saved = Imehifadhiwa: { $feed } haikununuliwa { $month }, wala haikutumika.
nothing-bought-some = Kilikuwepo bado
nothing-bought-some-about = Kilikuwa kimebaki cha zamani, na mifugo ilikula hicho.
nothing-bought-some-saved = Imehifadhiwa: { $feed } haikununuliwa { $month }; ilikuwepo bado ya zamani.
book-feed-purchase-animal-group-id = Ni kwa mifugo gani
book-feed-purchase-animal-group-id-hint = Jaza tu kama mifugo ya aina mbili inaweza kukila
book-feed-count = Chakula kilichobaki
book-feed-count-about = Huonyesha chakula kinaisha kwa kasi gani, na kama kimebaki hadi mwezi unaofuata.
book-feed-count-kg = Kilichobaki, kg
book-feed-count-kg-hint = Pima au kadiria chakula kilichobaki asubuhi, kabla ya kulisha; 0 kama hakikubaki
book-feed-count-animal-group-id = Mifugo inayokila
book-feed-count-animal-group-id-hint = Jaza tu kama mifugo ya aina mbili inaweza kukila
book-other-cost = Gharama nyingine za malisho ya chipukizi
book-other-cost-about = Fedha au kazi ya familia kwa kukuza malisho, zaidi ya mbegu na chakula.
book-other-cost-amount-hint = Saa za familia kwa kiasi ambacho wangepata
book-asset = Banda na vifaa
book-asset-about = Gharama inagawanywa sawa kwa miezi ya matumizi.
book-baseline-ration = Mgao wa kabla ya malisho ya chipukizi
book-baseline-ration-about = Alichopata mnyama mmoja kila siku kabla ya malisho ya chipukizi, mstari mmoja kwa kila chakula: akiba hupimwa kwa huo.
book-fodder-plan = Mpango wa kundi la mifugo
book-fodder-plan-about = Pale unapotofautiana na mwongozo wa ukuzaji. Kilichoachwa wazi kinafuata mwongozo.
book-seed-issue = Mbegu iliyogawiwa
book-seed-payment = Malipo ya mbegu
book-deduction = Makato kwenye pesa za maziwa au mayai
book-deduction-about = Mbali na mbegu: usafiri, hisa, mkopo. Hukatwa kwenye malipo ya kipindi chenye tarehe yake.
book-seed-adjustment = Marekebisho ya mbegu iliyopo
book-seed-adjustment-about = Baada ya kuhesabu, ikipotea au ikirudishwa.
book-seed-adjustment-change-kg-hint = Kwa minus kilichoondolewa
book-seed-purchase = Mbegu iliyopokelewa
book-seed-purchase-about = Andika fungu kwanza, moja kwa kila mzigo, ili liweze kufuatiliwa.
book-seed-purchase-price = Bei ya yote
book-seed-lot = Mafungu ya mbegu
book-seed-lot-code = Namba ya fungu
book-supplier = Wauzaji
book-feed = Vyakula
book-feed-about = Viwango kutoka maabara au jedwali la vyakula, pamoja na chanzo.
book-feed-id = Chakula
book-seed-lot-id = Fungu la mbegu
book-supplier-id = Muuzaji
book-animal-group-id = Kundi la mifugo
book-shed-id = Banda
book-date = Siku
book-kg = kg
book-cost = Malipo ya yote
book-price = Bei ya yote
book-asset-cost = Gharama yake
book-amount = Kiasi
book-note = Maelezo
book-category = Kwa ajili ya
book-name = Jina
book-phone = Simu
book-code = Jina fupi
book-crop = Zao
book-in-service-on = Siku ya kwanza ya matumizi
book-salvage-value = Thamani itakayobaki mwishoni
book-life-months = Miezi ya matumizi
book-disposed-on = Iliachwa siku
book-kg-per-animal-day = kg kwa mnyama kwa siku
book-recorded-on = Iliandikwa siku
book-valid-from = Kuanzia
book-harvest-age-days = Umri wa kuvuna, siku tangu kuloweka
book-tray-load = Mbegu kwa kila trei
book-is-grown = Malisho ya chipukizi yanakuzwa kwa kundi hili la mifugo
book-payment = Malipo
book-paid-by = Imelipwa kwa
book-change-kg = Badiliko, kg
book-reason = Kwa nini
book-transport = Usafiri hadi ghalani
book-feed-grade = Imetajwa kuwa ya kulisha mifugo
book-untreated = Imetajwa kuwa haina dawa
book-germination-percent = Iliyoota kwenye jaribio, %
book-lead-time-days = Siku kutoka kuagiza hadi kupokea
book-dry-matter-percent = Uzito mkavu, % ya chakula
book-crude-protein-percent = Protini, % ya uzito mkavu
book-energy-mj-per-kg = Nishati, MJ kwa kg ya uzito mkavu
book-source = Viwango vimetoka wapi
cost-labour = kazi
cost-water = maji
cost-power = umeme au mafuta
cost-repairs = matengenezo
cost-disinfectant = dawa ya kusafishia
cost-disposal = utupaji
cost-interest = riba
cost-other = nyingine
payment-credit = kwa mkopo
payment-paid = imelipwa
tray-load-scaled = kulingana na mahitaji ya siku
tray-load-full = trei zilizojaa
adjustment-stock_count = kuhesabu
adjustment-returned = imerudishwa
adjustment-spoiled = imeharibika
adjustment-lost = imepotea
adjustment-moved = imehamishwa
adjustment-other = nyingine
book-link = Chakula na gharama
store-title-about = Mbegu iliyopokelewa, mafungu, wauzaji, vyakula na viwango vyao
taken-back = Hii ilifutwa. Inabaki kwenye historia na haiwezi kubadilishwa.

calendar-title = Kazi kwenye kalenda
calendar-of = Kazi ya { $farm } kwenye kalenda
calendar-about = Ipe kalenda ya simu au kompyuta anwani hii, pale inapochukua kalenda kutoka kwenye mtandao. Kisha itaonyesha kazi ya shamba ya wiki mbili zijazo na kuifuata yenyewe.
calendar-secret = Mwenye anwani hii huona kazi ya shamba hili bila kuingia. Usimpe mtu mwingine; ifute simu ikipotea au ikiuzwa.
calendar-make = Tengeneza anwani
calendar-address = Anwani: { $address }
calendar-once = huonyeshwa mara moja: inakili sasa
calendar-again = Anwani hii ilishatengenezwa na ilionyeshwa mara moja. Kama hukuiandika, ifute hapa chini na utengeneze nyingine.
calendar-addresses = Anwani zinazotumika
calendar-none = Bado hakuna.
calendar-end = Futa anwani ya { $made }
wait-head-count = andika idadi ya mifugo
wait-baseline = andika mgao wa kabla ya malisho ya chipukizi, au kilichonunuliwa kabla ya kuanza
wait-held-price = angalia bei ya { $feed } iliyonunuliwa { $from }
wait-held-kg = angalia kilo za { $feed } iliyonunuliwa { $from }
wait-next-purchase = ununuzi unaofuata wa { $feed }: ule wa { $from } unatumika
wait-purchase = andika ununuzi wa { $feed }, au kwamba haikununuliwa
wait-purchase-days = { $feed }, { $from } hadi { $until }: andika ununuzi, au kwamba haikununuliwa
wait-animals = sema { $feed } ya { $from } ilikuwa ya mifugo gani
wait-seed-price = andika bei ya mbegu iliyolowekwa
wait-feed = chakula
note-season = msimu haujaondolewa: mashamba yasiyo na malisho ya chipukizi ni machache mno; makadirio yanazingatia hilo
note-association = maziwa au mayai kwa fedha: yanaendana tu, haikuthibitishwa kwamba ni kazi ya malisho ya chipukizi
saving-status-running = Mwezi haujaisha: rekodi za hadi leo, bado hakuna akiba
saving-status-no_baseline = Haijulikani: hakuna kinachojulikana kabla ya kuanza
saving-status-held = Haijulikani: ununuzi mmoja uangaliwe
saving-status-waiting = Bado haijulikani: chakula kinatumika, ununuzi unaofuata utaeleza
saving-status-start_lot = Haijulikani: chakula kingi kilinunuliwa kabla ya kuanza
saving-status-ration_only = Namba inaweza kutolewa, kutokana na mgao uliosemwa tu.
feed-saving = Chakula kilichookolewa
output-value = Maziwa au mayai yaliyoongezeka (minus: yaliyopungua)
net-result = Jumla, pamoja na maziwa au mayai
earlier-method = Miezi iliyofungwa kwa njia ya awali, { $currency }
earlier-method-about = Inabaki kama ilivyoripotiwa. Hivi ndivyo njia ya ripoti hii inavyosema. Inaonyeshwa mara moja, pamoja na mwezi huu, na haihesabiwi popote.
earlier-reported = Iliyoripotiwa
earlier-now = Kwa njia hii
net-gained = Pamoja na maziwa na mayai: faida ya { $amount }.
net-lost = Pamoja na maziwa na mayai: hasara ya { $amount }.
net-unclear = Pamoja na maziwa na mayai bado haijulikani. Kwa rekodi faida ni { $amount }, lakini huenda ni bahati tu; bado hatuna uhakika.
net-unclear-loss = Pamoja na maziwa na mayai bado haijulikani. Kwa rekodi hasara ni { $amount }, lakini huenda ni bahati tu; bado hatuna uhakika.
net-causal = Badiliko la maziwa na mayai limelinganishwa na mashamba ambayo bado hayajaanza.
net-association = Haikuonyeshwa kwamba malisho ya chipukizi ndiyo yaliyobadilisha maziwa na mayai.
bought-cost = Chakula kilichonunuliwa mwezi huu
farms-unclear = Mashamba ambayo bado haijulikani
fodder-cost = Mbegu, gharama nyingine na uchakavu
since-none = Tangu kuanza: bado hakuna mwezi wenye namba.
since-saved = Tangu kuanza: { $amount } zimeokolewa; kiasi halisi huenda ni kati ya { $low } na { $high }. Miezi ya mashamba { $months } kati ya { $of }.
since-lost = Tangu kuanza: hasara ya { $amount }; kiasi halisi huenda ni kati ya { $low } na { $high }. Miezi ya mashamba { $months } kati ya { $of }.
since-tell = Ikiendelea hivi, itaweza kujulikana baada ya miezi { $months } yenye namba, si mapema zaidi.
since-tell-long = Ikiendelea hivi, haitaweza kujulikana ndani ya miaka { $years }.
since-unclear = Tangu kuanza: bado haijulikani; kiasi halisi huenda ni kati ya { $low } na { $high }. Miezi ya mashamba { $months } kati ya { $of }.
rations-too-high = Mgao wa { $class } ulisemwa { $percent } % zaidi ya kweli, kwa kuangalia mashamba { $farms } yalichonunua. Hesabu inazingatia hilo.
rations-too-low = Mgao wa { $class } ulisemwa { $percent } % pungufu ya kweli, kwa kuangalia mashamba { $farms } yalichonunua. Hesabu inazingatia hilo.
waits-title = Ripoti ya akiba inasubiri nini
waits-count = { $count ->
    [one] { $month }: shamba { $count } linasubiri jibu.
   *[other] { $month }: mashamba { $count } yanasubiri jibu.
}
wait-look = Angalia
wait-put-right = Rekebisha: { $feed } ya { $date }
wait-write-down = Andika ununuzi wa { $feed }
wait-none = { $feed } haikununuliwa
wait-count = Hesabu mifugo
wait-ration = Andika mgao wa kabla ya malisho ya chipukizi
how-title = Jinsi akiba ilivyopatikana · { $farm } · { $month }
how-link = Jinsi namba hii ilivyopatikana
how-none = Hakuna mifugo iliyorekodiwa mwezi huu.
how-words = Maneno ya ukurasa huu
how-basis = Siku za mifugo { $days }. Msingi umetokana na miezi { $months } kabla ya kuanza; mgao uliosemwa una uzito wa { $weight } %.
how-index = Kipimo cha mwezi: { $index }. Hicho ndicho kiasi cha kawaida ambacho mashamba yasiyo na malisho ya chipukizi yalitumia.
how-no-index = Msimu haujaondolewa: mashamba yasiyo na malisho ya chipukizi ni machache mno.
how-feeds = Vyakula, { $currency }
how-price = Bei ya kilo
how-baseline-kg = Bila chipukizi, kilo
how-baseline-cost = Bila chipukizi, gharama
how-eaten-kg = Kililiwa, kilo
how-eaten-cost = Kililiwa, gharama
how-covered = Siku zinazojulikana, %
how-lots = { $feed }: kililiwa kutoka ununuzi upi
how-lot-days = Kililiwa
how-days = { $from } hadi { $until }
how-bought = Kilinunuliwa, kilo
how-paid = Kililipwa
how-rate = Kilo kwa mnyama kwa siku
how-in-use = Kinatumika
how-sums = Hesabu ya kutoa, { $currency }
how-term = Neno
how-amount = Kiasi
how-low = Kiasi cha chini (uhakika wa 95 %)
how-high = Kiasi cha juu (uhakika wa 95 %)
saving-short-not_started = haijaanza
saving-short-running = haujaisha
saving-short-start_month = mwezi wa kuanza
saving-short-no_baseline = bila msingi
saving-short-held = iangaliwe
saving-short-waiting = inasubiri
saving-short-missing = inakosekana
saving-short-start_lot = chakula cha zamani
saving-short-ration_only = ina namba
saving-short-estimated = ina namba
rule-guide_dry_matter = mwongozo wa ukuzaji unajipinga
rule-thrown_without_weight = imetupwa, mavuno hayakupimwa
rule-price_outlier = bei iliyo mbali na ya mashamba mengine
rule-amount_outlier = kiasi kilicho mbali na cha kawaida cha shamba
rule-ration_too_much = mgao mkubwa mno
rule-ration_cost = gharama ya mgao iliyo mbali na ya wengine
rule-unit_slip = tarakimu au kipimo kimekosewa
rule-level_shift = mabadiliko ya kudumu ya maziwa au mayai
rule-herd_implied = wanyama wachache zaidi wangelingana
rule-check_level = kiwango cha maziwa au mayai cha kuangaliwa
rule-texts_undone = ujumbe mwingi uliofutwa
rule-text_against_visit = ujumbe kinyume na ziara
problem-guide_dry_matter = Kwa mwongozo wa ukuzaji, tarehe { $date } malisho mabichi yana asilimia { $percent } ya uzito mkavu wa mbegu; hayawezi kuwa na zaidi ya wote.
problem-thrown_without_weight = { $what }: kilo { $kg } zilitupwa, lakini mavuno hayakupimwa.
problem-price_outlier = { $what }: kilo { $kg } zilizonunuliwa { $date } ziligharimu { $currency } { $price } kwa kilo, mara { $ratio } ya bei ya mashamba mengine.
problem-amount_outlier = { $what }: kilo { $kg } zilizonunuliwa { $date } ni mara { $ratio } ya ununuzi wa kawaida wa shamba hili.
problem-ration_too_much = { $what }: mgao ni kilo { $dry } za uzito mkavu kwa mnyama kwa siku, zaidi ya anavyoweza kula.
problem-ration_cost = { $what }: mgao unagharimu mara { $ratio } ya gharama ya mashamba mengine.
problem-unit_slip-milk = Lita { $each } kwa mnyama tarehe { $date }, mbali na siku za karibu.
problem-unit_slip-eggs = Mayai { $each } kwa mnyama tarehe { $date }, mbali na siku za karibu.
problem-level_shift = Kuanzia { $date } maziwa au mayai ni mara { $ratio } ya yalivyokuwa.
problem-herd_implied = Kuanzia { $date } maziwa au mayai ni mara { $ratio } ya yalivyokuwa, huku wanyama wakiwa { $animals }: { $fit } wangelingana.
problem-check_level = Kuanzia { $date } maziwa au mayai ni mara { $ratio } ya yalivyokuwa, na yanabaki hivyo.
problem-texts_undone = Shamba { $what }: ujumbe { $texts } ulifutwa tarehe { $day }.
problem-text_against_visit-thrown = { $what }: kwenye ziara ya { $visit } trei zilitupwa kwa kuharibika; kwa ujumbe wa { $text } zilivunwa.
problem-text_against_visit-tray = { $what }: kwa ujumbe wa { $text } trei ilikuwa kilo { $wrote }, kwenye ziara ya { $visit } kilo { $weighed }.
problem-text_against_visit-whole = { $what }: kwa ujumbe wa { $text } mavuno yote yalikuwa kilo { $wrote }, kwenye ziara ya { $visit } kilo { $weighed }.
fix-guide_dry_matter = Weka mavuno madogo zaidi, au maji mengi zaidi kwenye malisho mabichi.
fix-thrown_without_weight = Ongeza uzito uliovunwa, au sema trei ngapi zilitupwa.
fix-price_outlier = Sahihisha kilo au kiasi kilicholipwa, au sema kwa nini bei ilikuwa hivyo.
fix-amount_outlier = Sahihisha kilo, au sema kwa nini zilinunuliwa nyingi au chache hivyo.
fix-ration_too_much = Sahihisha mgao: gramu badala ya kilo, au chakula cha mifugo wote?
fix-ration_cost = Sahihisha mgao au bei ya chakula ndani yake, au sema kwa nini ni hivyo.
fix-unit_slip = Sahihisha kiasi: angalia tarakimu au kipimo kilichokosewa.
fix-level_shift = Uliza kama kukamua mara moja kumeachwa au kipimo kimebadilika, au sema kilichobadilika.
fix-herd_implied = Andika wanyama waliouzwa, waliokufa au waliokauka, au sahihisha kiasi kuanzia siku hiyo.
fix-check_level = Angalia rekodi za karibu na mabadiliko; kubali kama ilikuwa hivyo.
fix-texts_undone = Mpigie mwanachama: mwonyeshe jinsi ya kuandika ujumbe, na uulize nani anaandika kwa namba hiyo.
fix-text_against_visit = Muulize mwanachama nini kilipimwa na lini, kisha sahihisha iliyo na kosa.
unit-slip-digit = Tarakimu moja zaidi au pungufu?
unit-slip-trays = Trei za 30 badala ya mayai, au kinyume chake?
unit-slip-bags = Magunia badala ya kilo, au kinyume chake?
unit-slip-grams = Gramu badala ya kilo, au kinyume chake?
finding-cases-day = Mara { $cases } tarehe { $first }; hii ndiyo mbaya zaidi.
finding-cases = Mara { $cases } kuanzia { $first } hadi { $last }; hii ndiyo mbaya zaidi.
finding-holds-back = Imezuiwa hadi itatuliwe: { $figures }.
finding-counts-in = Inahesabiwa kama ilivyo katika: { $figures }.
bears-on-feed_saving = akiba ya chakula
bears-on-output_change = mabadiliko ya maziwa au mayai
bears-on-spoilage = trei zilizoharibika
bears-on-planned_yield = mavuno ya kupangia
bears-on-seed_stock = mbegu iliyopo
review-run = Historia yote inaangaliwa: mashamba { $done } kati ya { $farms } yamemalizika.
review-run-ended = Historia yote ya { $farms ->
    [one] shamba 1
   *[other] mashamba { $farms }
  } iliangaliwa, mara ya mwisho { $date }.
guide-doubtful = Kwa viwango hivi malisho mabichi yana asilimia { $percent } ya uzito mkavu wa mbegu. Mbegu inayoota hutumia sehemu yake: angalia tena mavuno na maji.
refused-dry_matter = Kwa kiwango hiki malisho mabichi yangekuwa na asilimia { $percent } ya uzito mkavu wa mbegu. Weka mavuno madogo zaidi au maji mengi zaidi.
rule-ration_not_bought = mgao dhidi ya manunuzi
problem-ration_not_bought-more = { $what }: mgao uliosemwa wakati wa kujiunga ni { $percent } % zaidi ya kilichonunuliwa kabla ya kuanza.
problem-ration_not_bought-less = { $what }: mgao uliosemwa wakati wa kujiunga ni { $percent } % pungufu ya kilichonunuliwa kabla ya kuanza.
fix-ration_not_bought = Sahihisha mgao au manunuzi ya kabla ya kuanza. Kama walilishwa mazao ya shamba, kubali na useme hivyo.
wait-left = Sema { $feed } iliyobaki ni kiasi gani

# Mambo yanayoendana na hasara. Kamwe si chanzo: yanaendana tu.
condition-soaked-hot = iliyolowekwa kwenye joto la zaidi ya nyuzi { $degrees } za Selsiasi
condition-humid = iliyolowekwa kwenye hewa yenye unyevu wa zaidi ya { $percent } %
condition-water-source = iliyokuzwa kwa { $value }
condition-crop = ya { $value }
condition-checklist-no = ya mashamba ambako ziara ya mwisho ilijibu hapana kwa “{ $question }”
condition-harvested-late = iliyovunwa kwa kuchelewa siku moja au zaidi
condition-seed-deep = yenye mbegu zaidi ya mara { $times } ya kiasi cha trei moja
condition-wet-season = iliyolowekwa katika msimu wa mvua
condition-poor-germination = ambayo chini ya { $percent } % ya mbegu ziliota
condition-is-linked = Mikupuo { $condition } ilipoteza trei mara { $times } ya mingine ({ $low } hadi { $high }; mikupuo { $with } dhidi ya { $without }).
condition-no-difference = Mikupuo { $condition } ilipoteza trei karibu sawa na mingine: mara { $times } ({ $low } hadi { $high }; mikupuo { $with } dhidi ya { $without }).
condition-cannot-tell = Mikupuo { $condition }: bado haijulikani, trei zilizopotea ni mara { $times } ({ $low } hadi { $high }; mikupuo { $with } dhidi ya { $without }).
condition-too-few = Mikupuo { $condition }: bado haijulikani: imeonekana mikupuo { $with }, inahitajika { $needed }.
condition-too-few-without = Mikupuo { $condition }: bado haijulikani: mikupuo { $without } ilikuwa tofauti, inahitajika { $needed }.
condition-too-few-else = Mikupuo { $condition }: bado haijulikani: mikupuo, mashamba au hasara zilizorekodiwa ni chache mno.
condition-compared = Ikilinganishwa na { $value }.
source-piped = maji ya bomba
source-borehole = maji ya kisima kirefu
source-shallow_well = maji ya kisima kifupi
source-rainwater = maji ya mvua
source-river = maji ya mto
source-vendor = maji ya kununua
source-other = maji ya chanzo kingine
condition-between-farms = Huu ni ulinganisho kati ya mashamba, si kati ya mikupuo ya shamba moja.
condition-own-shed = Katika banda hili, mikupuo { $condition } ilipoteza trei mara { $times } ya mingine ({ $low } hadi { $high }).
condition-own-farm = Katika shamba hili, mikupuo { $condition } ilipoteza trei mara { $times } ya mingine ({ $low } hadi { $high }).
condition-own-not-told = Mikupuo { $condition }: shamba hili bado haliwezi kutofautishwa na mengine.
condition-caution = Yanaendana; rekodi haziwezi kusema kwamba moja ndilo chanzo cha lingine.
wet-months-title = Msimu wa mvua
wet-months = Miezi ya mvua
wet-months-hint = Namba kutoka 1 hadi 12 zenye mkato kati yake, kama 3,4,5,11. Tupu: hasara hazilinganishwi na msimu.
refused-already_written = { $was } imeandikwa tayari. Chagua kama { $now } inaongezwa, jumla { $both }, au inachukua nafasi yake.
refused-far_off = { $now }: wanyama { $animals } wa kundi hili kwa kawaida hutoa takriban { $usual }. Sahihisha namba, au sema kwamba ni sahihi.
refused-very_much = { $now } ni nyingi mno kwa wanyama { $animals }. Sahihisha namba, au sema kwamba ni sahihi.
spoiled = Zimeharibika
spoiled-trays = Trei zilizotupwa
spoiled-why = Sababu:
correct-it = Sahihisha
refused-beyond_standing = Mkupuo huu una trei { $standing } tu kwa sasa: usiandike zaidi ya hizo.
worked-drained = Maji yamemwagwa
worked-watered = Zimemwagiliwa
worked-cleaned = Zimesafishwa
field-watering = umwagiliaji
written-last = Zilizoandikwa mwisho. Gusa moja kuifuta.
first-title = Hatua za kwanza
first-title-about = Ushirika mpya unaandaa nini, kwa mpangilio
first-about = Ushirika mpya unahitaji haya kabla ya ripoti ya mwezi wa kwanza. Kila hatua ina fomu yake. Rudi hapa baada ya kila moja.
first-count = Hatua { $done } kati ya { $all } zimekamilika.
first-next = Inayofuata: { $step }
first-done = imekamilika
first-may-wait = inaweza kusubiri
first-areas = Maeneo
first-areas-about = Vijiji au kata. Kila shamba liko katika eneo moja, na afisa huona mashamba ya maeneo yake.
first-guide = Mwongozo wa ukuzaji
first-guide-about = Siku za kuvuna, mbegu kwa trei na mengineyo. Desturi ya kawaida hutumika hadi uweke yako.
first-feeds = Vyakula
first-feeds-about = Vyakula vya kununua ambavyo malisho ya chipukizi yanachukua nafasi yake. Mgao wa awali huvitaja.
first-supplier = Muuzaji wa mbegu
first-supplier-about = Anayewauzia nafaka ya mbegu.
first-lot = Fungu la mbegu
first-lot-about = Moja kwa kila shehena, ili mbegu mbaya ifuatiliwe.
first-seed = Mbegu ghalani
first-seed-about = Mbegu ya fungu hilo iliyopokelewa, na bei yake. Lazima ithibitishwe kuwa haikutiwa dawa.
first-officers = Maafisa
first-officers-about = Wanaotembelea mashamba. Kila mmoja hupewa msimbo wa mara moja na kuweka nenosiri.
first-farms = Shamba la kwanza
first-farms-about = Mwanachama, banda, wanyama na mgao wao wa kabla ya malisho ya chipukizi, kwa fomu moja.
first-questions = Maswali ya ziara
first-questions-about = Afisa anachoangalia bandani, kwa maswali ambayo ndiyo ni vizuri.
first-files = Je, mna orodha?
first-files-about = Wanachama, mashamba na manunuzi yanaweza kutoka kwenye lahajedwali badala ya fomu.
setup-title = Maeneo na maswali
setup-title-about = Maeneo ya ushirika, na maswali ya ziara
sheds-of = Mabanda ya { $farm }
sheds-title = Mabanda na siku za mapumziko
visits-of = Ziara zilizopangwa kwa { $farm }
visits-planned = Ziara zilizopangwa
visit-planned = Ziara imepangwa { $date }.
book-visit-plan = Ziara zilizopangwa
book-visit-plan-about = Mwanachama ambaye namba yake ilikubali ukumbusho hupata ujumbe alasiri ya siku iliyotangulia.
book-planned-on = Siku ya ziara
book-area = Maeneo
book-area-about = Maeneo yanaweza kuwa ndani ya makubwa zaidi.
book-parent-id = Liko ndani ya
book-checklist-item = Maswali ya ziara
book-checklist-item-code = Jina fupi
book-checklist-item-valid-from = Huulizwa kuanzia
book-topic = Kinahusu nini
book-question = Swali, ambalo ndiyo ni vizuri
book-valid-to = Huulizwa hadi
book-shed = Mabanda
book-shed-about = Shamba linaweza kuwa na kadhaa. Mkupuo hukaa katika banda moja.
book-tray-places = Nafasi za trei
book-tray-load-kg = Mbegu kavu kwa trei kamili, kg
book-tray-load-kg-hint = Iwapo tu inatofautiana na mwongozo
book-rest-day = Siku ambazo hakuna kuloweka
book-rest-day-about = Siku moja kila wiki, au siku moja tu.
book-weekday = Kila wiki siku ya
book-day = Siku hii
book-growing-pause = Kusitisha
book-growing-pause-about = Malisho hayakuzwi kwa muda: safari, maji hakuna, matengenezo.
book-first-day = Kuanzia
book-last-day = Hadi
book-last-day-hint = Acha wazi iwapo haijulikani
book-planned-head = Wanyama watakaokuja
book-planned-head-about = Watakuwa wangapi kuanzia siku fulani, ili kuloweka kuanze mapema.
book-head = Wanyama
topic-seed = mbegu
topic-water = maji
topic-disinfection = usafi wa dawa
topic-trays = trei
topic-shelves = rafu
topic-seed_depth = kina cha mbegu
topic-shed = banda
topic-pests = wadudu
topic-people = watu
topic-batches = mikupuo
topic-spoiled_trays = trei zilizoharibika
topic-feeding = ulishaji
topic-waste_water = maji taka
topic-records = kumbukumbu
weekday-monday = Jumatatu
weekday-tuesday = Jumanne
weekday-wednesday = Jumatano
weekday-thursday = Alhamisi
weekday-friday = Ijumaa
weekday-saturday = Jumamosi
weekday-sunday = Jumapili
invitation-line = Msimbo { $code }. Baadaye ingia kwa { $login }.
invite-many-title = Alika wanachama
invite-many-about = Hutengeneza karatasi moja ya kuchapisha, yenye msimbo kwa kila mwanachama asiye na nenosiri: si zaidi ya { $most } kwa mara moja. Karatasi mpya hufuta misimbo ya iliyotangulia.
invite-many-make = Tengeneza karatasi
invite-many-done = { $count ->
    [0] Hakuna anayehitaji msimbo: wanachama wote wenye simu wana nenosiri.
    [one] Mwanachama mmoja amealikwa.
   *[other] Wanachama { $count } wamealikwa.
  }
invite-many-once = Chapisha ukurasa huu sasa: misimbo haionyeshwi tena. Kata, na umpe kila mwanachama kipande chake. Msimbo hudumu wiki moja na hutumika mara moja.
invite-many-left = Wengine { $count } hawana nenosiri. Tengeneza karatasi nyingine hawa wakimaliza.
invite-many-without = Bila namba ya simu kwenye daftari, kwa hiyo hawakualikwa: { $names }
lost-title = Simu imepotea?
lost-about = Hii inamtoa mtu kwenye vifaa vyote mara moja, na kutoa msimbo mpya. Kumbukumbu zinazosubiri kwenye simu iliyopotea hazitatumwa tena.
lost-make = Funga vyote, toa msimbo mpya
recall-title = Mashamba yaliyopata fungu hili
recall-got-kg = Yalipata, kg
recall-left-kg = Imebaki, kg
recall-growing = Mikupuo inayokua
recall-animals = Wanyama waliolishwa
show-all = Onyesha zote { $count }
book-unused = Bado haijaandikwa
spoilage-lost-lately = { $percent } % ya trei zimepotea hivi karibuni
year-title = Miezi kumi na miwili iliyopita
year-saving-question = Kiasi gani kiliokolewa kila mwezi?
year-saving-text = Mstari wa akiba kwa mwezi na upana wake wa 95 %. Upana ukigusa sifuri, haijulikani kama fedha ziliokolewa.
year-lost-question = Sehemu gani ya trei ilipotea kila mwezi?
year-lost-text = Mstari wa trei zilizotupwa, asilimia ya zilizoanzishwa, kwa mwezi.
year-farms-question = Mashamba mangapi yalikuwa na namba kila mwezi?
year-farms-text = Mstari wa mashamba ambayo akiba yake ilikokotolewa, kwa mwezi.
year-farms = Mashamba yenye namba
year-farms-axis = mashamba
year-change-lost = Trei zilizopotea: { $is } %, mwezi uliotangulia { $was } %.
year-change-farms = Mashamba yenye namba: { $is }, mwezi uliotangulia { $was }.
year-change-unclear = Bado haijulikani kama kiliokolewa zaidi ya mwezi uliotangulia.
year-change-more = Kiliokolewa zaidi ya mwezi uliotangulia.
year-change-less = Kiliokolewa pungufu ya mwezi uliotangulia.
owed-title = Madeni ya mbegu
owed-title-about = Nani anadaiwa mbegu, kiasi gani na tangu lini
owed-lead = { $count ->
    [0] Hakuna anayedaiwa mbegu.
    [one] Mwanachama mmoja anadaiwa { $amount } ya mbegu.
   *[other] Wanachama { $count } wanadaiwa { $amount } ya mbegu.
  }
owed-now = Anadaiwa
owed-over = Kati yake ya zaidi ya siku { $days }
owed-last = Ya mwisho kuandikwa
owed-table = Wanaodaiwa, { $currency }
owed-about = Malipo hulipia kwanza mgao wa zamani zaidi. Peleka orodha kwenye malipo yajayo ya maziwa au mayai: kinachokatwa huko huandikwa kwenye daftari la shamba kama kimelipwa kwa makato.
refused-last_keeper = Huyu ndiye wa mwisho wa kazi hii anayeweza kuingia: ongeza mwingine kwanza.
year-none = Bado hakuna miezi miwili yenye namba.
trainings-title = Mafunzo
trainings-title-about = Panga mafunzo, weka alama waliohudhuria, rudia mada.
trainings-none = Bado hakuna mafunzo yaliyoandikwa.
training-plan = Panga mafunzo
training-planned = yamepangwa
training-topic = Mada
training-for = Kwa wanachama wa
training-for-all = maeneo yote
training-place = Mahali
training-trainer = Mkufunzi
training-save = Hifadhi mafunzo
training-came = { $count ->
    [0] hakuna aliyewekewa alama
    [one] mtu mmoja alihudhuria
   *[other] watu { $count } walihudhuria
  }
training-repeat = Rudia mada hii
training-register = Orodha ya mahudhurio
training-later = Orodha ya mahudhurio hufunguliwa siku ya mafunzo.
training-find = Tafuta mwanachama: jina, namba au simu
training-nobody = Hakuna mwanachama anayelingana. Tafuta jina au namba nyingine.
training-tick = Weka alama kwa kila aliyepo. Kisha hifadhi.
training-mark = Hifadhi waliohudhuria
training-kept = Mahudhurio: { $topic }
training-also = { $count ->
    [one] Mwingine mmoja amewekewa alama
   *[other] Wengine { $count } wamewekewa alama
  }
training-unseen = { $count ->
    [one] Mwingine mmoja alitoka eneo lisilo lako.
   *[other] Wengine { $count } walitoka maeneo yasiyo yako.
  }
refused-too_early = Orodha ya mahudhurio hufunguliwa siku ya mafunzo.
totals-hidden-why = Hakuna namba inayotokana na wanachama chini ya { $count }. Kundi dogo limefichwa, pamoja na linalofuata. Hivyo hakuna anayeweza kulipata kwa kutoa. Makundi yaliyofichwa yanaonyeshwa kwa pamoja.
totals-hidden-group = limefichwa: mojawapo ya makundi yaliyofichwa lina watu wachache mno
group-together = makundi yaliyofichwa kwa pamoja
group-ages-together = rika zilizofichwa kwa pamoja
group-age-not-stated = umri haukutajwa
indicators-title = Viashiria
indicators-hidden = Hakuna namba inayotokana na watu chini ya { $count }. Wanaohesabiwa ni wanachama waliokubali tu.
indicators-of = Viashiria vya
indicators-period = { $from } hadi { $to }
indicators-of-period = { $from } hadi { $to }. Unaweza kuchagua robo za mwaka zilizokwisha, na mwaka hadi mwisho wa robo moja.
indicators-so-far = Namba ya mwaka hadi sasa haionyeshwi pale ambapo, ikilinganishwa na robo zake, ingeonyesha walichofanya watu wachache.
not-shown-so-far = imefichwa: watu wachache mno ndani yake, au kati yake na robo ya mwaka
not-shown-groups-so-far = { $groups } imefichwa: watu wachache mno katika mojawapo, au kati yake na robo ya mwaka
refused-quarters = Andika robo ya mwaka iliyokwisha, au mwaka hadi mwisho wa robo kama hiyo.
indicator-definition = Maana
indicator-value = Thamani
indicator-low = Kutoka, 95 %
indicator-high = Hadi, 95 %
indicator-people_trained = Watu waliopata mafunzo
indicator-means-people_trained = Wanachama waliohudhuria angalau mafunzo mamoja katika miezi hii. Kila mmoja huhesabiwa mara moja.
indicator-women_trained_percent = Wanawake kati ya waliopata mafunzo, %
indicator-means-women_trained_percent = Wanawake waliopata mafunzo, kati ya wote waliopata mafunzo. Wasiotaja jinsia wamo katika wote.
indicator-farms_growing = Mashamba yanayootesha
indicator-means-farms_growing = Mashamba yaliyotandaza angalau trei moja katika miezi hii, kwa jinsia ya mwanachama.
indicator-women_growing_percent = Sehemu ya wanawake katika mashamba yanayootesha, %
indicator-means-women_growing_percent = Mashamba yanayootesha ambayo mwanachama ni mwanamke, kati ya yote yanayootesha.
indicator-farms_active = Mashamba yanayoandika
indicator-means-farms_active = Mashamba yaliyoandika maziwa, mayai, trei, malisho yaliyolishwa au chakula kilichonunuliwa katika miezi hii.
indicator-farms_dropped_out = Mashamba yaliyoacha
indicator-means-farms_dropped_out = Mashamba yaliyotandaza trei katika miezi { $grew } iliyotangulia, na hakuna trei katika miezi { $silent } ya mwisho.
indicator-saving = Akiba ya fedha
indicator-means-saving = Chakula ambacho hakikununuliwa, ukitoa gharama ya malisho ya chipukizi, kwa mashamba yenye namba, mwezi kwa mwezi. Kiasi halisi kimo kati ya namba hizo mara 95 kati ya 100.
indicator-litres_per_cow_day = Lita kwa ng’ombe kwa siku
indicator-means-litres_per_cow_day = Maziwa yaliyoandikwa, kwa kila ng’ombe anayekamuliwa na siku yenye kumbukumbu.
indicator-hen_day_percent = Mayai kwa kuku 100 kwa siku
indicator-means-hen_day_percent = Mayai yaliyoandikwa, kwa kuku 100 na siku yenye kumbukumbu.
indicator-milk_change_percent = Badiliko la maziwa tangu kuanza, %
indicator-means-milk_change_percent = Maziwa ya siku yenye malisho ya chipukizi, ikilinganishwa na mashamba ambayo hayajaanza. Ya miezi yote hadi sasa.
indicator-egg_change_percent = Badiliko la mayai tangu kuanza, %
indicator-means-egg_change_percent = Mayai ya siku yenye malisho ya chipukizi, ikilinganishwa na mashamba ambayo hayajaanza. Ya miezi yote hadi sasa.
indicator-months_reported = Miezi iliyoripotiwa
indicator-means-months_reported = Miezi ya kipindi hiki ambayo ushirika umeifunga.
not-shown-few_people = imefichwa: mojawapo ya makundi yaliyofichwa lina watu wachache mno
not-shown-not_agreed = imefichwa: si wote waliomo waliokubali kuhesabiwa
not-shown-not_known = bado haijulikani
indicators-title-about = Takwimu kwa wafadhili, pamoja na maana yake, kama faili.
feed-value-title = Thamani ya vyakula
feed-value-title-about = Bei ya uzito mkavu, protini na nishati.
feed-value-prices = Bei ni bei ya kati ya walicholipa wanachama mwezi huo. Bila ununuzi ni bei ya kati ya mwisho ya miezi mitatu iliyotangulia.
feed-mix-title = Mchanganyiko wa bei nafuu
feed-mix-title-about = Mchanganyiko wa vyakula wa bei nafuu wenye protini na nishati ya kutosha.
feed-mix-about = Bei ni za ununuzi wa ushirika wenyewe. Zibadilishe upendavyo. Chakula kisicho na bei huachwa.
break-even-title = Malisho ya chipukizi yanalipa lini
break-even-title-about = Bei, mavuno na kiasi kilichoharibika ambapo malisho ya chipukizi huanza kulipa.
break-even-about = Namba ni za kumbukumbu za mashamba za mwezi huo. Zibadilishe upendavyo.
break-even-no-feed = Hakuna chakula chenye bei na uzito mkavu mwezi huu. Andika ununuzi, na uzito mkavu wa chakula.
break-even-fill = Kumbukumbu za mwezi huu hazina namba zote. Jaza zinazokosekana.
break-even-saves = Malisho ya chipukizi yanaokoa { $amount }: yaligharimu { $cost }. Yanachukua nafasi ya kilo { $kg } za chakula, ambazo ni { $other }.
break-even-loses = Malisho ya chipukizi yanapoteza { $amount }: yaligharimu { $cost }. Yanachukua nafasi ya kilo { $kg } za chakula, ambazo ni { $other }.
break-even-price = Yanalipa kuanzia bei hii ya chakula, { $currency } kwa kilo
break-even-yield = Yanalipa kuanzia mavuno haya, kilo mbichi kwa kilo ya mbegu
break-even-spoiled = Yanalipa hadi sehemu hii ikiharibika, %
break-even-always = kila mara
break-even-never = kamwe
suppliers-title = Wauzaji wa mbegu walinganishwa
suppliers-title-about = Bei, uotaji na trei zilizoharibika za kila muuzaji.
suppliers-about = Bei ni pamoja na usafiri hadi ghala. Trei zilizopotea ni sehemu ya trei zilizoanzishwa. Sehemu halisi imo kati ya namba hizo mara 95 kati ya 100. Mashamba pia hutofautiana: si mara zote sababu ni mbegu.
suppliers-none = Hakuna mbegu iliyonunuliwa kipindi hiki.
suppliers-name = Muuzaji, fungu
suppliers-kg = Ilinunuliwa, kg
suppliers-price = { $currency } kwa kilo
suppliers-germination = Uotaji, %
suppliers-viable = { $currency } kwa kilo ya mbegu inayoota
suppliers-spoiled = Trei zilizopotea, %
suppliers-too-few = makundi ni machache mno
ration-caution = Uliza huduma ya mifugo ya eneo lako kabla ya kubadili mgao. Mchanganyiko wa bei nafuu si mpango wa kulisha. Badili vyakula polepole. Weka maji na chumvi karibu. Usilishe kamwe chakula chenye ukungu wala mbegu iliyotiwa dawa.
ration-each-feed = Chakula
ration-each-kg = { $currency } kwa kilo
ration-each-dry = { $currency } kwa kilo ya uzito mkavu
ration-each-protein = { $currency } kwa kilo ya protini
ration-each-mj = { $currency } kwa MJ
ration-price-of = Bei ya, na kinachokosekana
ration-table = Vyakula vya { $month }
ration-no-price = hakuna bei
ration-no-dry = hakuna uzito mkavu
ration-no-protein = hakuna protini
ration-no-energy = hakuna nishati
ration-fodder-costs = Malisho ya chipukizi ya ushirika yaligharimu { $amount } kwa kilo ya uzito mkavu. Usilinganishe kwa uzito mbichi: malisho mabichi ni maji zaidi.
ration-fodder-unknown = Gharama ya malisho ya chipukizi haijulikani mwezi huu: mbegu, bei yake au uzito wa malisho unakosekana.
ration-reckon = Kokotoa
ration-mix-kg = Uzito mkavu wa mchanganyiko, kg
ration-mix-protein = Protini ghafi isiyopungua, % ya uzito mkavu
ration-mix-energy = Nishati isiyopungua, MJ kwa kilo ya uzito mkavu
ration-prices = Bei, { $currency } kwa kilo inavyolishwa
ration-left-out = Vyakula visivyoweza kuchanganywa
ration-clash = Hakuna mchanganyiko unaofikia hapo. Mipaka hii haiendi pamoja:
ration-clash-protein = Protini ghafi: unataka { $asked } %, kiwango cha juu kinachofikiwa ni { $reach } %.
ration-clash-energy = Nishati: unataka MJ { $asked }, kiwango cha juu kinachofikiwa ni MJ { $reach }.
ration-clash-weight = Uzito wa mchanganyiko.
ration-mix-costs = Mchanganyiko wa bei nafuu ni { $cost }: { $each } kwa kilo ya uzito mkavu.
ration-mix-table = Mchanganyiko
ration-as-fed = kg inavyolishwa
ration-share = Sehemu, %
ration-cost = { $currency }
ration-worth = Unafaa hadi, { $currency } kwa kilo
ration-worth-about = Chini ya bei ya safu ya mwisho, chakula hicho huingia zaidi katika mchanganyiko. Juu yake, kidogo.
ration-worth-needed = kwa bei yoyote
ration-worth-never = hata bure haifai
ration-replaces = Chakula ambacho malisho ya chipukizi yanachukua nafasi yake
ration-seed-price = Bei ya mbegu, kwa kilo
ration-seed-kg = Mbegu iliyolowekwa, kg
ration-seed-dry = Uzito mkavu wa mbegu, %
ration-fresh-kg = Malisho mabichi yaliyooteshwa, kg
ration-fodder-dry = Uzito mkavu wa malisho ya chipukizi, %
ration-other-cost = Gharama nyingine zote
ration-spoiled = Yaliyoharibika, %
training-none-yours = Hakuna mwanachama wake aliye katika maeneo yako. Tafuta wanachama wako kwa jina.
not-shown-groups = { $groups } imefichwa: mojawapo ya makundi yaliyofichwa lina watu wachache mno
not-shown-few-in-all = imefichwa: inatokana na watu wachache mno

# The board's paper
board-title = Taarifa ya bodi
board-title-about = Kwa bodi na kwa mkutano wa wanachama wote, ya kuchapisha
board-about = Mwezi huu, mwezi uliopita na mwaka hadi sasa; maeneo, bei ya uzito mkavu, mbegu inayodaiwa, trei zilizoharibika, kinachokosekana, maamuzi na sahihi. Kurasa nne zaidi.
board-pdf = Kwa bodi (PDF)
board-pdf-all = Kwa wanachama wote, bila majina (PDF)
board-decide = Bodi inaombwa kuamua
board-none = Rekodi hazileti swali lolote.

# Milk and egg payment
owed-over-limit = { $count ->
    [one] Mwanachama mmoja anadaiwa zaidi ya kikomo cha mkopo cha { $amount }.
   *[other] Wanachama { $count } wanadaiwa zaidi ya kikomo cha mkopo cha { $amount }.
}
account-over-limit = Hii imezidi kikomo cha mkopo cha ushirika kwa { $amount }. Uliza kabla ya kutoa mbegu zaidi kwa mkopo.
pay-run-title = Malipo ya maziwa na mayai
pay-run-title-about = Kila mwanachama aliuza nini, nini kinakatwa kwa mbegu, nini kinalipwa
pay-run-from = Siku ya kwanza
pay-run-to = Siku ya mwisho
pay-run-lead = Mauzo: { $sold }. Ya kukata kwa mbegu: { $kept }. Ya kulipa: { $net }.
pay-run-unpriced = { $count ->
    [one] Rekodi moja ya maziwa au mayai yaliyouzwa haina bei na haimo kwenye jumla hizi. Andika bei yake kwanza.
   *[other] Rekodi { $count } za maziwa au mayai yaliyouzwa hazina bei na hazimo kwenye jumla hizi. Andika bei zake kwanza.
}
pay-run-below = { $count ->
    [one] Makato ya mwanachama mmoja yamezidi mauzo yake.
   *[other] Makato ya wanachama { $count } yamezidi mauzo yao.
}
pay-run-owing = { $count ->
    [one] Mwanachama mmoja anadaiwa mbegu na hakuuza kitu siku hizi. Hakuna cha kukata.
   *[other] Wanachama { $count } wanadaiwa mbegu na hawakuuza kitu siku hizi. Hakuna cha kukata.
}
pay-run-table = Malipo, { $currency }
pay-run-sold = Mauzo
pay-run-due = Deni la mbegu
pay-run-other = Makato mengine
pay-run-was-kept = Yaliyokatwa awali
pay-run-keep-now = Kata sasa
pay-run-net = Lipa
pay-run-about = Lipa = mauzo − makato mengine − yaliyokatwa awali − kata sasa. Hakikatwi zaidi ya kilichouzwa. Makato mengine huandikwa kwenye daftari la shamba.
pay-run-limit = Weka kikomo cha mkopo
pay-run-keep = Kata kwa ajili ya mbegu
pay-run-warning = Hii inaandika malipo ya mbegu kwa kila mwanachama, tarehe ya siku ya mwisho. Malipo yanaweza kufutwa kwenye daftari la shamba.
pay-run-do = Kata { $amount }
pay-run-kept = Zimekatwa kwa mbegu: { $amount }.
refused-changed = Rekodi zimebadilika tangu hapo. Angalia orodha tena.
book-expected = Jumla
chart-cannot-tell = tupu: haijulikani
evidence-uncounted = tupu: halihesabiwi
output-question-milk = Ng’ombe mmoja alitoa maziwa kiasi gani kwa siku?
output-question-eggs = Kuku mmoja alitaga mayai mangapi kwa siku?
lot-in-store = kg { $kg } ghalani
lot-none-in-store = hakuna ghalani
lot-price-kg = { $amount } kwa kilo
book-seed-issue-price-hint = Ukiacha wazi, ni kilo mara bei iliyo kando ya fungu. 0 kama ni bure
round-by-way = Kwa mpangilio wa njia
round-by-need = Ya haraka kwanza
round-about-way = Kuanzia shamba la haraka zaidi, kila mara kwenda lililo karibu. Mashamba ambayo mahali pake hapajulikani ni ya mwisho.
round-further = km { $km } mbele, kwa mstari ulionyooka
saved-calendar-end = Anwani ya kalenda imeondolewa.
saved-wet-months = Imehifadhiwa: miezi ya mvua.
saved-order = Mpangilio umechaguliwa na kuhifadhiwa.
saved-close = Mwezi umefungwa.
saved-areas = Imehifadhiwa: maeneo ya afisa huyu.
saved-accepted = Imekubaliwa. Itarudi kama rekodi zitaonyesha jambo kubwa zaidi.

# What is kept about a member
held-link = Kinachohifadhiwa kuhusu mwanachama
held-title = Kinachohifadhiwa kuhusu { $name }
held-about = Ushirika unahifadhi rekodi hizi. Faili lina zote, pamoja na matoleo ya awali.
held-file = Vyote kwenye faili (JSON)
held-count = { $records ->
    [one] rekodi moja, matoleo { $versions }
   *[other] rekodi { $records }, matoleo { $versions }
}
held-pictures = Picha
held-accounts = Akaunti za kuingia
held-months = Miezi iliyofungwa ambayo ripoti inamtaja mwanachama
held-for-title = Vitu vinahifadhiwa muda gani
held-for-what = Nini
held-for-how-long = Muda gani
held-for-days = { $days ->
    [one] siku moja
   *[other] siku { $days }
}
held-for-until-erased = mpaka ifutwe kabisa
held-for-records = Rekodi na matoleo yake ya awali
held-for-pictures = Picha
held-for-reports = Ripoti za miezi iliyofungwa
held-for-sessions = Kuingia kusikotumika
held-for-codes = Namba za mara moja
held-for-texts = Ujumbe wa simu
held-for-security_log = Mistari ya kumbukumbu ya usalama
held-for-failures = Kuingia kulikoshindikana
held-law = Kinachopaswa kukabidhiwa, kusahihishwa au kufutwa kinawekwa na sheria ya ulinzi wa taarifa ya nchi. Muulize mwanasheria pale isipo wazi. Nakala za akiba huhifadhi kilichokuwepo zilipotengenezwa, mpaka ziondolewe.
erase-title = Futa mwanachama kabisa
erase-left-first = Mwanachama hufutwa baada ya kuondoka. Andika kwanza siku ya kuondoka.
erase-left-on = Aliondoka tarehe
erase-about = Jina, simu, mahali, picha na maandishi yote huru huondolewa kwenye kila toleo. Akaunti inafungwa. Ripoti za miezi iliyofungwa zinaonyesha namba. Takwimu zinabaki. Haiwezi kurudishwa.
erase-number = Namba ya uanachama, tena
erase-reason = Nani aliomba, na lini (bila jina)
erase-do = Futa kabisa
saved-erased = Mwanachama amefutwa. Takwimu zinabaki chini ya namba.
refused-different = Hii si namba ya mwanachama huyu.
enterprise-milk = maziwa
enterprise-eggs = mayai
kind-correction_request = Maombi ya marekebisho
kind-follow_up = Ufuatiliaji
kind-growing_pause = Mapumziko ya kuotesha
kind-planned_head = Mifugo iliyopangwa
kind-visit_check = Majibu ya ziara
kind-visit_plan = Ziara zilizopangwa
kind-work_record = Kazi zilizofanyika
kind-flag = Alama za tahadhari
kind-start_place = Nafasi za majaribio
kind-on_off_plan = Majaribio yenye mapumziko
kind-photo = Picha
kind-rest_day = Siku za kupumzika
kind-review_acceptance = Mambo yaliyokubaliwa

# Text messages of members
texts-title = Ujumbe wa simu
texts-title-about = Namba za wanachama, ujumbe ambao haukueleweka, na gharama yake
texts-about = Wanachama huandika kwa namba walizokubali. Namba hutumika inaporudisha namba ya kuthibitisha ya tarakimu nne. Iliyokaa kimya siku { $days } haitumiwi habari za fedha hadi ipate nyingine.
texts-numbers = Namba
texts-numbers-about = Kwa mpangilio wa namba; hata zilizoisha
texts-none = Hakuna namba iliyounganishwa bado.
texts-number = Namba
texts-member = Mwanachama
texts-member-number = Namba ya uanachama
texts-language = Lugha
texts-consent = Siku mwanachama alipokubali
texts-state = Hali
texts-state-pending = inasubiri namba ya kuthibitisha
texts-state-active = inatumika
texts-state-stopped = haitaki ukumbusho
texts-state-ended = imeisha
texts-hears = Inaweza kutumiwa
texts-heard = Iliandika mwisho
texts-reminders = Ukumbusho wa kazi
texts-cautions = Tahadhari
texts-money = Akiba na deni
texts-link-do = Unganisha namba na utume namba ya kuthibitisha
texts-end-do = Ondoa muunganisho
texts-cost = Mwezi huu
texts-came = Ujumbe uliofika
texts-unclear = Haukueleweka
texts-unclear-about = Ujumbe ambao haukueleweka; huhifadhiwa siku { $days }
texts-at = Lini
texts-text = Ujumbe
texts-segments = Vipande
texts-budget = Vipande vya mwezi
texts-budget-near = Sehemu nne kati ya tano za vipande vya mwezi zimetumika.
texts-carrier = Mtoa huduma alisikika mwisho
texts-waiting = Ujumbe wa zamani unaosubiri
texts-by-purpose = Ujumbe kwa kusudi
texts-purpose = Kusudi
texts-purpose-answer = majibu
texts-purpose-code = namba za kuthibitisha
texts-purpose-reminder = ukumbusho
texts-purpose-caution = tahadhari
texts-purpose-result = matokeo ya mwezi
texts-count = Ujumbe
texts-given-up = Ulioachwa
