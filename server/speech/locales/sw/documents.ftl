# The savings report as PDF and as workbook
doc-title = { $cooperative }: akiba ya { $month }
doc-page = ukurasa { $page } kati ya { $pages }
doc-heading = Akiba ya { $month }
doc-span = { $from } hadi { $to }
doc-state = { $cooperative }. { $state }
doc-closed = Mwezi umefungwa: marekebisho ya baadaye yataonekana kwenye miezi inayofuata.
doc-open = Mwezi bado uko wazi: namba hubadilika kadiri rekodi zinavyoongezwa au kusahihishwa.
doc-no-totals = Nakala hii ina mashamba machache tu, bila jumla.
doc-farms = { $count ->
    [one] Shamba { $count }
   *[other] Mashamba { $count }
}
doc-nobody = Hakuna shamba lenye namba mwezi huu.
doc-together-lost = { $farms }, hasara kwa pamoja: { $amount }.
doc-together-saved = { $farms }, akiba kwa pamoja: { $amount }.
doc-no-interval = Uhakika haujulikani: hakuna shamba lenye namba.
doc-interval-open = Kiasi halisi huenda ni kati ya { $range } (uhakika wa 95 %), yaani kuanzia chini ya sifuri hadi juu yake: bado haijulikani kama mashamba kwa pamoja yanaokoa au yanapata hasara.
doc-interval-clear = Kiasi halisi huenda ni kati ya { $range } (uhakika wa 95 %). Sifuri haimo: hii si bahati tu.
doc-range = { $low } na { $high }
doc-glance = Mwezi kwa ufupi
doc-fact-baseline = Kingeliwa bila malisho ya chipukizi, kwa bei za mwezi huu, { $currency }
doc-fact-fodder = Mbegu, gharama nyingine na uchakavu wa malisho ya chipukizi, { $currency }
doc-fact-saving = Akiba, { $currency } (minus: hasara)
doc-fact-share = Akiba kama sehemu ya kilichokadiriwa kuliwa bila chipukizi
doc-fact-included = Mashamba yenye namba
doc-fact-saves = · kati yake yaliyookoa
doc-fact-loses = · kati yake yaliyopata hasara
doc-fact-unclear = · kati yake bado haijulikani
doc-fact-left-out = Mashamba yasiyo na namba
doc-fact-trays = Trei zilizotandazwa
doc-fact-lost = Trei zilizotupwa
doc-fact-lost-share = { $trays } ({ $percent })
doc-fact-spoiling = Mashamba ambayo trei zinaendelea kuharibika
doc-fact-seed = · kati yake ambayo ushahidi unaelekeza fungu la mbegu
doc-fact-milk = Maziwa kwa ng’ombe kwa siku, mashamba yenye namba
doc-fact-eggs = Mayai kwa siku kwa kuku 100, mashamba yenye namba
doc-fact-output = Maziwa au mayai tangu malisho ya chipukizi yaanze, mashamba
doc-litres = lita { $litres }
doc-up-down = { $up } yameongezeka, { $down } yamepungua, { $open } haijulikani
doc-chart-areas = Akiba kwa eneo (uhakika wa 95 %)
doc-chart-members = Akiba kwa mwanachama, hasara kubwa kwanza (uhakika wa 95 %)
doc-chart-ends = Hasara kubwa au akiba ndogo zaidi { $half }, na akiba kubwa zaidi { $half }
doc-chart-marks = Alama iliyojazwa: makadirio yote yako upande mmoja wa sifuri. Alama tupu: makadirio yanaanzia chini ya sifuri hadi juu yake, kwa hiyo haijulikani kama ni akiba au hasara.
doc-chart-axis = akiba, { $currency } (kushoto kwa sifuri: hasara)
doc-bar = { $saving } (kati ya { $range })
doc-bar-no-interval = { $saving }, uhakika bado haujulikani
doc-area-without = hakuna shamba lenye namba
doc-members = Wanachama kwa eneo
doc-members-about = Fedha ni { $currency } nzima. Bila chipukizi: chakula ambacho mifugo ingekula bila malisho ya chipukizi. Gharama ya malisho: mbegu, gharama nyingine na uchakavu, pamoja na trei zilizoharibika. Kistari: haikurekodiwa. “haijulikani”: makadirio ya 95 % yanaanzia chini ya sifuri hadi juu yake. Jumla: mashamba yenye namba, na idadi yake.
doc-column-number = Namba
doc-column-member = Mwanachama
doc-column-animals = Mifugo
doc-column-before = Bila chipukizi
doc-column-fodder = Gharama ya malisho
doc-column-saving = Akiba (hasara −)
doc-column-lost = Trei zilizopotea
doc-no-area = Bila eneo
doc-counted = { $area }, jumla
doc-all-counted = Maeneo yote, jumla kuu
doc-verdict-none = bila namba
doc-verdict-no-interval = bila uhakika
doc-verdict-open = haijulikani
doc-verdict-saves = ameokoa
doc-verdict-loses = hasara
doc-verdict-neither = hakuna
doc-reason-not_started = bila namba: malisho ya chipukizi hayajaanza
doc-reason-start_month = bila namba: malisho ya chipukizi yalianza mwezi huu
doc-corrections = Marekebisho ya miezi iliyofungwa
doc-corrections-about = Ziliripotiwa vingine awali, na hazimo kwenye jumla ya mwezi huu.
doc-month = Mwezi
doc-farm = Shamba
doc-reported = Iliyoripotiwa
doc-now = Rekodi za sasa
doc-change = Tofauti
doc-method-title = Jinsi namba zilivyopatikana
doc-method = Akiba = chakula ambacho mifugo hiyo hiyo ingekula bila malisho ya chipukizi, kwa bei za mwezi huu, kutoa chakula kilichonunuliwa na kuliwa, mbegu, gharama nyingine na uchakavu. Chakula kinagawanywa kwa siku hadi ununuzi unaofuata. Ambacho kingeliwa: kile shamba lilichonunua kwa mnyama kwa siku katika miezi 12 kabla ya kuanza, na mgao lililosema, kutoa kiasi ambacho mgao husemwa kupita kiasi; mara kipimo cha mashamba yasiyo na malisho ya chipukizi mwezi huo huo. Uhakika wa 95 % unatokana na jinsi miezi hiyo ilivyotofautiana kabla ya kuanza.
doc-units = fedha kwa sarafu; maziwa kwa lita; malisho kwa kilo; siku za mifugo ni idadi × siku
doc-units-of = Vipimo: { $units }; fedha ni { $currency }.
doc-dry-matter = Malisho mabichi yanahesabiwa kuwa na { $percent } % ya uzito mkavu.
doc-complete = Shamba lina namba pale tu ambapo yote yanayohitajika yalirekodiwa. Kisichorekodiwa hakihesabiwi kama sifuri; jedwali linakitaja. Jumla zinahesabu mashamba yenye namba tu.
doc-spoiled = Trei zilizoharibika zimo kwenye namba, kwa kuwa mbegu na gharama zake zilitumika. Hasara inaonyeshwa wazi kama akiba.
doc-cautions = Tahadhari
doc-caution = Mgao wa chakula na afya ya mifugo: uliza huduma ya mifugo ya eneo lako; usilishe malisho yenye ukungu.

# A member's own page
doc-member-title = { $cooperative }: { $member }, { $month }
doc-member-heading = { $member }: { $month }
doc-member-about = { $cooperative }. Mwanachama { $number }, shamba { $farm }. Mifugo kwa wastani: { $animals }.
doc-member-about-area = { $cooperative }. Mwanachama { $number }, shamba { $farm }, { $area }. Mifugo kwa wastani: { $animals }.
doc-you-none = Mwezi huu: { $reason }.
doc-you-lost = Umepata hasara ya { $amount } mwezi huu.
doc-you-saved = Umeokoa { $amount } mwezi huu.
doc-you-no-interval = Hatujui namba hii ni ya uhakika kiasi gani: miezi iliyorekodiwa kabla ya malisho ya chipukizi ni michache mno.
doc-you-open = Kiasi halisi huenda ni kati ya { $range }, yaani kuanzia chini ya sifuri hadi juu yake: bado haijulikani kama ulipata akiba au hasara.
doc-you-clear = Kiasi halisi huenda ni kati ya { $range }.
doc-money-went = Fedha zilienda wapi, { $currency }
doc-went-baseline = Mifugo yako ingekula bila malisho ya chipukizi
doc-went-seed = Mbegu iliyolowekwa
doc-went-other = Gharama nyingine za malisho ya chipukizi
doc-went-depreciation = Uchakavu wa banda na trei
doc-went-saving = Akiba (minus: hasara)
doc-per-litre = · kwa kila lita ya maziwa
doc-per-egg = · kwa kila yai
doc-per-animal-day = · kwa kila mnyama kwa siku
doc-milk-and-eggs = Maziwa na mayai
doc-milk-a-day = Lita { $litres } kwa ng’ombe kwa siku.
doc-eggs-a-day = Mayai { $eggs } kwa siku kwa kuku 100.
doc-no-output = Hakuna maziwa wala mayai yaliyorekodiwa.
doc-since = Tangu malisho ya chipukizi yaanze: { $change }
doc-trays = Trei
doc-no-trays = Hakuna trei zilizorekodiwa.
doc-trays-spread = Trei { $spread } zilitandazwa, { $lost } zilitupwa ({ $percent }).
doc-spoiling-seed = Trei zinaendelea kuharibika, na ushahidi unaelekeza fungu la mbegu: litenge na umuulize afisa wako.
doc-spoiling = Trei zinaendelea kuharibika: pitia orodha ya ukaguzi pamoja na afisa wako.
doc-lacks = Kinachokosekana kwenye rekodi
doc-lacks-about = { $what }. Kisichorekodiwa hakihesabiwi kama sifuri.
doc-change-higher = { $what } yameongezeka kwa { $percent } % kuliko ambavyo yangekuwa, kati ya { $low } % na { $high } %.
doc-change-lower = { $what } yamepungua kwa { $percent } % kuliko ambavyo yangekuwa, kati ya { $low } % na { $high } %.
doc-change-open = { $what }: bado haijulikani, kati ya { $low } % na { $high } %.
doc-change-none = { $what }: bado haijulikani.

# The workbook
sheet-totals = Jumla
sheet-notes = Maelezo
sheet-adjustments = Marekebisho
sheet-area = Eneo
sheet-page = Ukurasa { $page } kati ya { $pages }
sheet-all-areas = Maeneo yote
sheet-all-months = Miezi yote
sheet-totals-about = Jumla za fedha ni za safu zenye namba; mambo mengine ni ya safu zote. Kila seli ni fomula juu ya laha za maeneo; njia, vipimo na tahadhari ziko kwenye laha ya mwisho.
sheet-area-about = Safu moja ni shamba moja na aina moja ya mifugo. Seli tupu haikurekodiwa au haijulikani; si sifuri.
sheet-of = { $title }, { $part }
sheet-adjustments-part = marekebisho
sheet-adjustments-about = Marekebisho ya miezi iliyokuwa imefungwa. Hayamo kwenye jumla.
sheet-money = { $what }, { $currency }
sheet-farms-included = Safu zenye namba
sheet-farms-saving = Safu zilizookoa
sheet-farms-losing = Safu zenye hasara
sheet-farms-left-out = Safu zisizo na namba
sheet-member-number = Namba ya mwanachama
sheet-member = Mwanachama
sheet-status = Hali
sheet-animals = Mifugo
sheet-animal-days = Siku za mifugo
sheet-baseline-cost = Kingeliwa bila malisho ya chipukizi
sheet-seed-cost = Mbegu
sheet-other-cost = Gharama nyingine
sheet-depreciation = Uchakavu
sheet-saving = Akiba (hasara -)
sheet-low = Akiba, kiasi cha chini
sheet-high = Akiba, kiasi cha juu
sheet-saving-percent-of-baseline = Akiba, % ya kilichokadiriwa bila malisho ya chipukizi
sheet-saving-per-animal-day = Akiba kwa mnyama kwa siku
sheet-saving-per-litre = Akiba kwa lita
sheet-saving-per-egg = Akiba kwa yai
sheet-fresh-fodder-fed-kg = Malisho mabichi yaliyolishwa, kg
sheet-fodder-cost-per-kg-dry-matter = Gharama ya malisho kwa kg ya uzito mkavu
sheet-trays-started = Trei zilizotandazwa
sheet-trays-fed-unweighed = Trei zilizolishwa bila kupimwa
sheet-trays-discarded = Trei zilizotupwa
sheet-trays-discarded-percent = Trei zilizotupwa, %
sheet-milk-litres = Maziwa, lita
sheet-litres-per-cow-day = Lita kwa ng’ombe kwa siku
sheet-eggs = Mayai
sheet-hen-day-percent = Mayai kwa kuku 100 kwa siku
sheet-output = Badiliko la mazao, %
sheet-output-low = Badiliko la mazao, kiasi cha chini
sheet-output-high = Badiliko la mazao, kiasi cha juu
sheet-spoilage = Trei zilizoharibika
sheet-said = Kinachokosekana, na maelezo
sheet-reported-in = Iliripotiwa mwezi
sheet-closed-month = Mwezi uliofungwa
sheet-how-to-read = Jinsi ya kusoma kitabu hiki
sheet-all-closed = Miezi yote imefungwa: marekebisho ya baadaye yataonekana kama marekebisho.
sheet-still-open = Bado iko wazi, kwa hiyo namba zinaweza kubadilika: { $months }.
sheet-note-method = Njia
sheet-note-units = Vipimo
sheet-units = { $units }; fedha ni { $currency }.
sheet-note-empty = Seli tupu
sheet-empty = Haikurekodiwa, au haijulikani. Hali inasema kwa nini shamba halina namba; safu ya mwisho inasema kinachokosekana. Tupu si sifuri.
sheet-status-about = imekadiriwa: ina namba; mgao tu: ina namba kutokana na mgao uliosemwa; haijaanza: bado hakuna malisho ya chipukizi; mwezi unaendelea: mwezi haujaisha; mwezi wa kuanza: malisho ya chipukizi yalianza mwezi huu; bila msingi: hakuna kinachojulikana kabla ya kuanza; imezuiwa: ununuzi mmoja uangaliwe; inasubiri: ununuzi unaofuata utaeleza; inakosekana: kuna kisichorekodiwa; chakula cha zamani: chakula kingi kilinunuliwa kabla ya kuanza. Fedha zinajumlishwa kwa safu zenye namba tu.
sheet-note-intervals = Uhakika
sheet-intervals = Kiasi cha chini na cha juu cha makadirio ya 95 %. Sifuri ikiwa kati yake haijulikani kama shamba linaokoa au linapata hasara.
sheet-note-losses = Hasara
sheet-losses = Akiba iliyo chini ya sifuri ni hasara.
sheet-note-months = Miezi
sheet-status-estimated = imekadiriwa
sheet-status-not_started = haijaanza
sheet-status-start_month = mwezi wa kuanza
sheet-status-missing = inakosekana
doc-fact-eaten = Chakula kilichonunuliwa na kuliwa, { $currency }
doc-fact-feed-saving = Chakula kilichookolewa: tofauti, { $currency }
doc-fact-output-value = Maziwa au mayai yaliyoongezeka (minus: yaliyopungua), { $currency }
doc-fact-net = Jumla: akiba pamoja na maziwa au mayai, { $currency }
doc-fact-since = Akiba tangu kuanza, { $currency }
doc-fact-since-range = · huenda ni kati ya (uhakika wa 95 %)
doc-fact-since-months = · miezi ya mashamba yenye namba
doc-x-of-y = { $months } kati ya { $of }
doc-left-out-not_started = · malisho ya chipukizi hayajaanza
doc-left-out-running = · mwezi haujaisha
doc-left-out-start_month = · malisho ya chipukizi yalianza mwezi huu
doc-left-out-no_baseline = · hakuna kinachojulikana kabla ya kuanza
doc-left-out-held = · ununuzi mmoja uangaliwe
doc-left-out-waiting = · yanasubiri ununuzi unaofuata
doc-left-out-missing = · kuna kisichorekodiwa
doc-left-out-start_lot = · chakula cha kabla ya kuanza
doc-running = Mwezi haujaisha. Bado hakuna akiba, ni rekodi za hadi leo tu.
doc-together-open = { $farms } kwa pamoja: bado haijulikani kama yameokoa au yamepata hasara.
doc-you-cannot-tell = Bado haijulikani kama umeokoa au umepata hasara mwezi huu.
doc-went-eaten = Chakula kilichonunuliwa walichokula
doc-went-feed-saving = Chakula kilichookolewa
doc-went-output = Maziwa au mayai yaliyoongezeka (minus: yaliyopungua)
doc-went-net = Jumla, pamoja na maziwa au mayai
doc-went-bought = Kwa taarifa: chakula kilichonunuliwa mwezi huu
doc-column-eaten = Chakula kilicholiwa
doc-settled = Chakula kilichokuwa kikitumika wakati wa kufunga
doc-earlier = Miezi iliyofungwa kwa njia ya awali
doc-earlier-about = Inabaki kama ilivyoripotiwa. Hivi ndivyo njia ya ripoti hii inavyosema. Inaonyeshwa mara moja na haihesabiwi popote.
doc-by-this-method = Kwa njia hii
doc-terms = Maneno ya ripoti hii
term-eaten = Kilicholiwa: kilichonunuliwa, kimegawanywa kwa siku hadi ununuzi unaofuata.
term-baseline = Bila malisho ya chipukizi: chakula ambacho mifugo hiyo hiyo ingekula. Kinakadiriwa kutokana na kilichonunuliwa kabla ya kuanza na kilichosemwa, kwa bei za mwezi huu.
term-index = Kipimo cha mwezi: kiasi ambacho mashamba yasiyo na malisho ya chipukizi yalitumia zaidi au pungufu mwezi huo.
term-interval = Huenda ni kati ya: kiasi halisi hatukijui kwa hakika. Mara 95 kati ya 100 huwa ndani ya mipaka hii.
term-waiting = Inasubiri: mfuko haujaisha, kwa hiyo bado hatuwezi kusema unaisha kwa kasi gani.
term-missing = Inakosekana: inaonekana ununuzi haukurekodiwa. Pengo si akiba.
term-held = Imezuiwa: namba iko mbali sana na nyingine. Mtu aangalie.
term-net = Jumla: chakula kilichookolewa pamoja na maziwa au mayai yaliyoongezeka au kupungua.
term-unseen = Haionekani: majani ya malishoni, chakula kilichokopeshwa au kuuzwa, na wanyama ambao hawakuhesabiwa. Ununuzi wa chakula ukiwa mchache, hakuna kinachokagua kilo zake.
doc-reason-running = bila namba: mwezi haujaisha
doc-reason-no_baseline = bila namba: hakuna kinachojulikana kabla ya kuanza
doc-reason-held = bila namba: ununuzi mmoja uangaliwe
doc-reason-waiting = bila namba bado: chakula kinatumika
doc-reason-missing = bila namba: kuna kisichorekodiwa
doc-reason-start_lot = bila namba: chakula kingi kilinunuliwa kabla ya kuanza
doc-reason-estimated = kuna namba
doc-reason-ration_only = kuna namba
doc-reason-waits = { $why }; { $what }
sheet-enterprise = Aina ya mifugo
sheet-eaten-cost = Chakula kilichonunuliwa na kuliwa
sheet-feed-saving = Chakula kilichookolewa
sheet-output-value = Maziwa au mayai yaliyoongezeka (minus: yaliyopungua)
sheet-net = Jumla (hasara -)
sheet-net-low = Jumla, kiasi cha chini
sheet-net-high = Jumla, kiasi cha juu
sheet-bought-cost = Chakula kilichonunuliwa mwezi huu
sheet-status-running = mwezi unaendelea
sheet-status-no_baseline = bila msingi
sheet-status-held = imezuiwa
sheet-status-waiting = inasubiri
sheet-status-start_lot = chakula cha zamani
sheet-status-ration_only = mgao tu

# The printed table
doc-column-share = Kati ya bila chipukizi
doc-column-output = Mazao kwa siku
table-farms = mashamba { $farms }: { $saved } yameokoa, { $lost } yamepata hasara, { $open } bado haijulikani; { $out } hayana namba
table-adjustments = Marekebisho { $count } ya miezi iliyofungwa, na chakula kilichokuwa kikitumika wakati wa kufunga: { $amount }
table-since = Tangu kuanza: { $amount }; kiasi halisi huenda ni kati ya { $range } (uhakika wa 95 %). Miezi ya mashamba { $months } kati ya { $of }.
table-closed = { $month } umefungwa. Hii ni ripoti ilivyotumwa:

# The board's paper
paper-title = { $cooperative }: { $heading }
paper-heading = Taarifa ya bodi, { $month }
paper-heading-all = Taarifa kwa wanachama, { $month }
paper-saved = { $farms }, akiba kwa pamoja: { $amount }. Kiasi halisi huenda ni kati ya { $range } (uhakika wa 95 %).
paper-lost = { $farms }, hasara kwa pamoja: { $amount }. Kiasi halisi huenda ni kati ya { $range } (minus: hasara; uhakika wa 95 %).
paper-open = { $farms } kwa pamoja: bado haijulikani kama ni akiba au hasara. Kiasi halisi huenda ni kati ya { $range } (uhakika wa 95 %).
paper-no-interval = { $farms } yana namba. Uhakika wake bado haujulikani.
paper-since = Tangu mwanzo: { $amount }, huenda ni kati ya { $range } (minus: hasara; uhakika wa 95 %).
paper-since-open = Tangu mwanzo: bado haijulikani kama ni akiba au hasara. Kiasi halisi huenda ni kati ya { $range } (uhakika wa 95 %).
paper-since-none = Tangu mwanzo hakuna mwezi wenye namba bado.
paper-months = Mwezi huu, mwezi uliopita, mwaka hadi sasa
paper-months-about = Mwaka hadi sasa ni jumla ya miezi yenye akiba, kuanzia Januari. Kiwango chake ni cha jumla ya mashamba na miezi hiyo hiyo. Kistari hapo: hakijulikani, kwa mfano pale shamba lililomo limeondolewa baadaye. Kwingine kistari ni: haikurekodiwa, au hakuna namba.
paper-seed-cost = Mbegu iliyolowekwa, { $currency }
paper-other-cost = Gharama nyingine za malisho ya chipukizi, { $currency }
paper-depreciation = Uchakavu wa mabanda na trei, { $currency }
paper-means = · maana yake
paper-farms = Mashamba yenye namba (mwaka: miezi ya mashamba)
paper-farms-each = · akiba / hasara / haijulikani
paper-fodder = Malisho ya chipukizi yaliyolishwa, kg, kadiri yalivyopimwa
paper-areas = Maeneo mwezi huu
paper-area-farms = Yaliyohesabiwa
paper-range = Kiwango (95 %)
paper-areas-more = { $count ->
    [one] Eneo moja zaidi liko kwenye ripoti ya akiba.
   *[other] Maeneo { $count } zaidi yako kwenye ripoti ya akiba.
}
paper-feeds = Bei ya kilo moja ya uzito mkavu
paper-fodder-costs = Malisho ya chipukizi: { $amount } kwa kilo ya uzito mkavu ({ $farms }).
paper-fodder-unknown = Malisho ya chipukizi: haijulikani. Mbegu, bei yake au uzito uliolishwa haukurekodiwa.
paper-feeds-none = Hakuna chakula cha kununua chenye bei na uzito mkavu uliorekodiwa.
paper-feed = Chakula cha kununua
paper-feed-cost = Kwa kilo ya uzito mkavu
paper-feed-beside = Chipukizi ni
paper-feed-month = Bei ya
paper-dearer = ghali zaidi kwa { $percent } %
paper-cheaper = nafuu zaidi kwa { $percent } %
paper-feeds-about = Uzito mkavu pekee haumlishi mnyama: protini na nguvu hutofautiana. Kabla ya kubadilisha mgao, uliza huduma ya mifugo ya eneo lako.
paper-seed = Mbegu kwa mkopo
paper-seed-owed = Tarehe { $day } { $members ->
    [0] hakuna mwanachama aliyedaiwa mbegu.
    [one] mwanachama mmoja alidaiwa { $amount } kwa mbegu.
   *[other] wanachama { $members } walidaiwa { $amount } kwa mbegu.
}
paper-seed-over = · kwa mbegu ya zaidi ya siku { $days } zilizopita
paper-seed-check-off = Kilicholipwa mwezi huu kwa makato ya maziwa au mayai
paper-seed-paid = Kilicholipwa mwezi huu kwa njia nyingine
paper-seed-limit = Kikomo cha mkopo cha mwanachama
paper-seed-over-limit = Wanachama waliozidi kikomo
paper-seed-balance = Anadaiwa
paper-seed-old = Ya zaidi ya siku { $days }
paper-spoiling = Mashamba ambayo trei zinaendelea kuharibika, na kilichofanyika
paper-spoiling-count = { $count ->
    [0] Hakuna shamba.
    [one] Shamba moja.
   *[other] Mashamba { $count }.
}
paper-spoiling-more = { $count ->
    [one] Shamba moja zaidi liko kwenye ukurasa wa trei zilizoharibika.
   *[other] Mashamba { $count } zaidi yako kwenye ukurasa wa trei zilizoharibika.
}
paper-spoiling-since = Tahadhari tangu
paper-spoiling-points = Inaelekeza
paper-spoiling-done = Kilichofanyika
paper-points-farm = shamba
paper-points-farm_or_lot = shamba au fungu moja la mbegu
paper-points-seed_lot = fungu la mbegu
paper-points-not_known = haijulikani
paper-not-seen = Hakuna afisa aliyeandika kuwa ameliona.
paper-seen = Afisa aliliona tarehe { $day }.
paper-cause = Sababu: { $cause }.
paper-cause-mould = ukungu
paper-cause-rot_at_drain_end = kuoza upande wa kutolea maji
paper-cause-poor_germination = kuota vibaya
paper-cause-dried_out = kukauka
paper-cause-pests = wadudu au wanyama waharibifu
paper-cause-left_too_long = kuachwa muda mrefu
paper-cause-other = nyingine
paper-cleared = Iliondolewa tarehe { $day }.
paper-missing = Kinachokosekana
paper-missing-waiting = { $count ->
    [0] Hakuna shamba linalosubiri rekodi.
    [one] Namba ya shamba moja inasubiri rekodi.
   *[other] Namba za mashamba { $count } zinasubiri rekodi.
}
paper-missing-findings = { $count ->
    [0] Hakuna kitu kwenye orodha ya kukagua.
    [one] Jambo moja liko kwenye orodha ya kukagua.
   *[other] Mambo { $count } yako kwenye orodha ya kukagua.
}
paper-decisions = Maamuzi yanayoombwa
paper-decisions-about = Rekodi zinaleta maswali haya. Mistari mitupu ni ya maswali mengine.
paper-question = Swali
paper-answer = Uamuzi
paper-remarks = Nani, hadi lini
paper-boxes = □ ndiyo  □ hapana  □ baadaye
paper-ask-close = { $count ->
    [0] Mwezi wa { $month } ufungwe? Hakuna kinachokosekana.
    [one] Mwezi wa { $month } ufungwe, ingawa shamba moja linasubiri rekodi?
   *[other] Mwezi wa { $month } ufungwe, ingawa mashamba { $count } yanasubiri rekodi?
}
paper-ask-records = { $count ->
    [one] Nani atapata rekodi zinazokosekana za shamba moja?
   *[other] Nani atapata rekodi zinazokosekana za mashamba { $count }?
}
paper-ask-spoiling = { $count ->
    [one] Nani atatembelea shamba moja linaloendelea kupoteza trei na halijaonwa tangu hapo?
   *[other] Nani atatembelea mashamba { $count } yanayoendelea kupoteza trei na hayajaonwa tangu hapo?
}
paper-ask-debts = { $amount } inadaiwa kwa mbegu ya zaidi ya siku { $days } zilizopita. Ikatwe kwenye malipo ya maziwa au mayai, au kusubiri?
paper-ask-limit = { $count ->
    [one] Mwanachama mmoja amezidi kikomo cha mkopo. Apewe mbegu zaidi kwa mkopo?
   *[other] Wanachama { $count } wamezidi kikomo cha mkopo. Wapewe mbegu zaidi kwa mkopo?
}
paper-ask-adjustments = Marekebisho ya miezi iliyofungwa yanabadilisha ripoti za awali kwa { $amount }. Yatambuliwe?
paper-signatures = Sahihi
paper-office = Cheo
paper-name = Jina
paper-signature = Sahihi
paper-date = Tarehe
paper-chair = Mwenyekiti
paper-secretary = Katibu
paper-treasurer = Mweka hazina
